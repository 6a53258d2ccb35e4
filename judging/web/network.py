"""Where this computer is on its own network, for phones that shall reach it."""

import socket
from ipaddress import ip_address
from urllib.parse import urlsplit

from fastapi import Request

#: An address that is nobody's (RFC 5737): asked for a way there, the system names the network it would take. Nothing is
#: sent.
_NOBODY = ("192.0.2.1", 9)


def own_address() -> str:
    """Return this computer's address on the network it is in, such as ``192.168.1.20``; empty where it is in none."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asked:
        try:
            asked.connect(_NOBODY)
        except OSError:  # no network at all
            return ""
        found = str(asked.getsockname()[0])
    return "" if ip_address(found).is_loopback or ip_address(found).is_unspecified else found


def is_this_computer_alone(address: str) -> bool:
    """Whether an address such as ``http://127.0.0.1:8000`` means only the computer that asks for it."""
    host = urlsplit(address).hostname or ""
    if host == "localhost" or host.endswith(".localhost"):
        return True
    try:
        return ip_address(host).is_loopback
    except ValueError:  # a name
        return False


def address_for_phones(request: Request) -> str:
    """Return the service's address as a phone opens it, without a slash at its end.

    The organiser sits at the laptop itself, where the service is ``127.0.0.1``; in a link for somebody else that would
    lead to their own phone. Where the service listens on every network, this computer's address there stands instead.
    """
    asked = str(request.base_url).rstrip("/")
    found = own_address() if request.app.state.is_on_network and is_this_computer_alone(asked) else ""
    if not found:
        return asked
    parts = urlsplit(asked)
    return f"{parts.scheme}://{found}" + (f":{parts.port}" if parts.port else "")
