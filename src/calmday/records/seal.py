"""How a guess is sealed: a digest that anyone can make again, with any program."""

from __future__ import annotations

import hashlib
import hmac

MODEL_NAME = "Calmday"
"""Under this name the program guesses, and nobody else."""


def digest_of(salt: str, by: str, text: str) -> str:
    """SHA-256 over salt, name and guess, each on a line: printf '%s\\n%s\\n%s' SALT NAME GUESS | sha256sum."""
    return hashlib.sha256(f"{salt}\n{by}\n{text}".encode()).hexdigest()


def seal_holds(digest: str, salt: str, by: str, text: str) -> bool:
    """Whether a guess is the one that was sealed."""
    return hmac.compare_digest(digest_of(salt, by, text), digest.strip().lower())
