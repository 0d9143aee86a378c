"""The one-time key that lets a phone in over the local network, and the session it gets for it.

The key is short enough to type in a cab and worth nothing once used. After a few wrong tries it is replaced, so that
trying all of them is hopeless: 10 tries of 32^8.
"""

from __future__ import annotations

import hmac
import secrets
import threading
from typing import Final

from itsdangerous import BadSignature, TimestampSigner

ALPHABET: Final = "ABCDEFGHJKLMNPQRSTUVWXYZ23456789"
"""Letters and digits that cannot be taken for one another."""

KEY_CHARACTERS: Final = 8
WRONG_TRIES: Final = 10
SESSION_SECONDS: Final = 14 * 3600
"""A test day."""

COOKIE: Final = "calmday_session"


class Keys:
    """The current key and the signer of sessions; both die with the program."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._signer = TimestampSigner(secrets.token_bytes(32), salt="calmday session")
        self._wrong = 0
        self._key = _new_key()

    @property
    def key(self) -> str:
        """The key as it is shown: two groups of four."""
        with self._lock:
            return f"{self._key[:4]} {self._key[4:]}"

    def admit(self, typed: str) -> str | None:
        """A session for the right key, which is thereby spent; None for a wrong one."""
        given = "".join(typed.upper().split()).replace("-", "").encode("utf-8", "replace")
        with self._lock:
            if hmac.compare_digest(given, self._key.encode()):
                self._renew()
                return self._signer.sign(secrets.token_hex(8)).decode()
            self._wrong += 1
            if self._wrong >= WRONG_TRIES:
                self._renew()
            return None

    def knows(self, session: str | None) -> bool:
        """Whether this session was given out here, and today."""
        if not session:
            return False
        try:
            self._signer.unsign(session, max_age=SESSION_SECONDS)
        except BadSignature:
            return False
        return True

    def _renew(self) -> None:
        self._wrong = 0
        self._key = _new_key()


def _new_key() -> str:
    return "".join(secrets.choice(ALPHABET) for _ in range(KEY_CHARACTERS))
