"""One module per question the page answers; each function turns a request into an answer."""
