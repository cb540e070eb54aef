"""What is printed so that another device in the same network can come in: address, code, and both as a QR code."""

from __future__ import annotations

import io
import socket

import segno

from tideover.web.guard import PAIR_PATH
from tideover.web.pairing import LASTS

ELSEWHERE = "192.0.2.1"
"""An address of documentation (RFC 5737): nothing is sent to it, it only makes the system choose the way out."""


def address_here() -> str:
    """This machine's address in the network; "" when it is in none."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as way:
        try:
            way.connect((ELSEWHERE, 9))
            address = str(way.getsockname()[0])
        except OSError:
            return ""
    return "" if address.startswith("127.") or address == "0.0.0.0" else address


def invitation(address: str, port: int, code: str) -> str:
    """What another device needs, as text for a terminal.

    Parameters
    ----------
    address : str
        Of this machine in the network. [-]
    port : int
        Where it listens. [-]
    code : str
        From `Pairing.code`. [-]
    """
    place = f"http://{address}:{port}{PAIR_PATH}"
    drawn = io.StringIO()
    segno.make(f"{place}?code={code}", micro=False).terminal(drawn, compact=True)
    return "\n".join(
        [
            f"On the other device open  {place}",
            f"and type the code         {code[:4]}-{code[4:]}",
            f"It works once, within {LASTS / 60:.0f} minutes. Or point the camera here:",
            drawn.getvalue().rstrip("\n"),
            "What is sent can be read by others in this network: share only where you trust it.",
            "",
        ]
    )


__all__ = ["address_here", "invitation"]
