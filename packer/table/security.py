"""Who may come in: this machine's own browser with the secret, asking for what there is, by GET.

Other pages that the same browser has open can reach a port of this machine too. They do not know
the secret, their requests carry another Host or Origin, and they may not show this page in a frame.
"""

from __future__ import annotations

import hmac
import secrets
from dataclasses import dataclass, field
from http import HTTPStatus
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Sequence

HOST: Final = "127.0.0.1"
SECRET_BYTES: Final = 32
LINE: Final = "line"
"""The last part of the address of the websocket."""

POLICY: Final = (
    "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; "
    "img-src 'self' blob: data:; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
REPORT_POLICY: Final = (
    "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; "
    "form-action 'none'; frame-ancestors 'none'; sandbox"
)
"""Of results that are opened by themselves: they load nothing and run nothing."""

HEADERS: Final = {
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cache-Control": "no-store",
}


@dataclass(frozen=True)
class Refusal:
    """Why a request is turned away: a status of HTTP and one sentence."""

    status: HTTPStatus
    reason: str


@dataclass(frozen=True)
class Access:
    """What a request must know and say.

    Attributes
    ----------
    port
        Of the server.
    secret
        First part of every path.
    """

    port: int
    secret: str = field(default_factory=lambda: secrets.token_urlsafe(SECRET_BYTES))

    @property
    def host(self) -> str:
        """The only Host there is."""
        return f"{HOST}:{self.port}"

    @property
    def origin(self) -> str:
        """The only Origin of the websocket."""
        return f"http://{self.host}"

    @property
    def address(self) -> str:
        """The address of the page, secret included."""
        return f"{self.origin}/{self.secret}/"

    def refusal(
        self, method: str, path: str, hosts: Sequence[str], origins: Sequence[str]
    ) -> Refusal | None:
        """Return why a request is turned away; None where it may come in.

        Parameters
        ----------
        method, path
            Of the request line.
        hosts, origins
            Every value of these headers.
        """
        if method != "GET":
            return Refusal(HTTPStatus.METHOD_NOT_ALLOWED, "only GET is answered here")
        if list(hosts) != [self.host]:
            return Refusal(
                HTTPStatus.MISDIRECTED_REQUEST, "this server has another name and port"
            )
        given = path.removeprefix("/").partition("/")[0]
        if not hmac.compare_digest(given.encode(), self.secret.encode()):
            return Refusal(HTTPStatus.FORBIDDEN, "open the address that packer table printed")
        if self.wanted(path) == LINE:
            if list(origins) != [self.origin]:
                return Refusal(HTTPStatus.FORBIDDEN, "only the page itself may draw")
        elif any(origin != self.origin for origin in origins):
            return Refusal(HTTPStatus.FORBIDDEN, "another page asked for this")
        return None

    def wanted(self, path: str) -> str:
        """Return what a path asks for, after the secret; a name in a table, never a file's path."""
        return path.partition("?")[0].removeprefix("/").partition("/")[2]
