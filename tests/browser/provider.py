"""A small OpenID Connect provider on loopback: who signs in is whom they click."""

import secrets
import threading
import time
from dataclasses import dataclass, field
from html import escape
from typing import Any, Final
from urllib.parse import urlencode

import uvicorn
from joserfc import jwk, jwt
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response
from starlette.routing import Route

CLIENT: Final = "wearfit-under-test"
PEOPLE: Final[dict[str, dict[str, Any]]] = {
    "Ines": {"email": "Ines@example.org", "name": "Ines <b>Keeper</b>", "email_verified": True},
    "Karl": {"email": "karl@example.org", "name": "Karl", "email_verified": True},
    "Otto": {"email": "otto@example.org", "name": "Otto", "email_verified": True},
    "Mallory": {"email": "mallory@example.org", "name": "Mallory", "email_verified": True},
    "Pretender": {"email": "ines@example.org", "name": "Ines", "email_verified": False},
}
TEAM: Final = 'keepers = ["ines@example.org", "KARL@example.org"]\nreaders = ["otto@example.org"]\n'


@dataclass
class Provider:
    """The provider, once it is served.

    Parameters
    ----------
    address : str
        Of it, such as http://127.0.0.1:4711.
    secret : str
        That the client knows.
    """

    address: str
    secret: str = field(default_factory=lambda: secrets.token_urlsafe(32))
    key: jwk.RSAKey = field(default_factory=lambda: jwk.RSAKey.generate_key(2048, {"kid": "one", "use": "sig"}))
    codes: dict[str, tuple[str, str]] = field(default_factory=dict)

    def app(self) -> Starlette:
        return Starlette(
            routes=[
                Route("/.well-known/openid-configuration", self._about),
                Route("/authorize", self._authorize),
                Route("/token", self._token, methods=["POST"]),
                Route("/keys", self._keys),
            ]
        )

    def secrets_file(self, app_address: str) -> str:
        """The file that the app is told of it by."""
        return (
            f'[auth]\nredirect_uri = "{app_address}/oauth2callback"\ncookie_secret = "{secrets.token_urlsafe(32)}"\n'
            f'client_id = "{CLIENT}"\nclient_secret = "{self.secret}"\n'
            f'server_metadata_url = "{self.address}/.well-known/openid-configuration"\n'
        )

    async def _about(self, request: Request) -> Response:
        return JSONResponse(
            {
                "issuer": self.address,
                "authorization_endpoint": f"{self.address}/authorize",
                "token_endpoint": f"{self.address}/token",
                "jwks_uri": f"{self.address}/keys",
                "response_types_supported": ["code"],
                "subject_types_supported": ["public"],
                "id_token_signing_alg_values_supported": ["RS256"],
            }
        )

    async def _authorize(self, request: Request) -> Response:
        asked = request.query_params
        assert asked["client_id"] == CLIENT
        if (name := asked.get("as")) is None:
            links = (f'<li><a href="?{escape(urlencode({**asked, "as": name}))}">{name}</a></li>' for name in PEOPLE)
            return HTMLResponse(f"<h1>Who are you?</h1><ul>{''.join(links)}</ul>")
        code = secrets.token_urlsafe(16)
        self.codes[code] = name, asked.get("nonce", "")
        return RedirectResponse(f"{asked['redirect_uri']}?{urlencode({'code': code, 'state': asked['state']})}")

    async def _token(self, request: Request) -> Response:
        form = await request.form()
        name, nonce = self.codes.pop(str(form["code"]))
        now = int(time.time())
        claims = {"iss": self.address, "aud": CLIENT, "sub": name, "iat": now, "exp": now + 600, "nonce": nonce, **PEOPLE[name]}
        token = jwt.encode({"alg": "RS256", "kid": "one"}, claims, self.key)
        return JSONResponse({"access_token": secrets.token_urlsafe(16), "token_type": "Bearer", "expires_in": 600, "id_token": token})

    async def _keys(self, request: Request) -> Response:
        return JSONResponse({"keys": [self.key.as_dict(private=False)]})


class Served:
    """A provider in a thread of its own, until it is stopped."""

    def __init__(self, provider: Provider, port: int) -> None:
        self._server = uvicorn.Server(uvicorn.Config(provider.app(), "127.0.0.1", port, log_level="warning"))
        self._thread = threading.Thread(target=self._server.run, daemon=True)
        self._thread.start()

    def stop(self) -> None:
        self._server.should_exit = True
        self._thread.join()
