"""Hidden-truth cases for judging a fuel-test reduction program."""
