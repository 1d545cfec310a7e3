"""The names and the word by which `lapwise serve` may be reached."""

from __future__ import annotations

import ipaddress
import secrets
import socket
from collections.abc import Iterable

OWN = ("127.0.0.1", "localhost", "::1")
ANY = ("0.0.0.0", "::")
_LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"
_WORD_LETTERS = 12
"""Letters of the word in the address: 59 bits, and nothing that can be mistaken for another when typed."""


def new_word() -> str:
    """The word that opens the bench from elsewhere."""
    return "".join(secrets.choice(_LETTERS) for _ in range(_WORD_LETTERS))


def allowed_hosts(host: str, port: int, names: Iterable[str] = ()) -> frozenset[str]:
    """The names this server answers to: a page of another site must not reach it by a name of its own.

    As browsers write them: with the port, save the usual one (80).
    """
    if loopback(host):
        found = {host, *OWN, *names}
    else:
        computer = socket.gethostname()
        found = {computer, f"{computer}.local", *names} | (set() if host in ANY else {host})
    return frozenset(written for name in found for written in spellings(name.lower(), port))


def spellings(name: str, port: int) -> tuple[str, ...]:
    """How a browser may write this name or address at this port."""
    return (at(name, port), _bracketed(name)) if port == 80 else (at(name, port),)


def reached_properly(named: str, origin: str | None, hosts: Iterable[str]) -> bool:
    """True for a request by one of our names and, where the browser says so, from a page of ours."""
    return named.lower() in hosts and (origin is None or origin.lower() == f"http://{named.lower()}")


def loopback(host: str) -> bool:
    """Whether only this computer can reach the address."""
    try:
        return host == "localhost" or ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def reachable(host: str) -> str:
    """What to type on another device: the computer's name where it listens at all its addresses."""
    return socket.gethostname() if host in ANY else host


def _bracketed(name: str) -> str:
    return f"[{name}]" if ":" in name else name


def at(name: str, port: int) -> str:
    """``name:port`` as an address is written."""
    return f"{_bracketed(name)}:{port}"
