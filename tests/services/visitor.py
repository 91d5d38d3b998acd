"""A browser without scripts: keeps cookies and one connection, and sends what a page would send."""

import http.client
import re
import select
from dataclasses import dataclass
from http.cookies import SimpleCookie
from urllib.parse import urlencode, urlsplit

from tests.services.programs import PATIENCE_S

BOUNDARY = "0123456789-between-the-parts"
FAILURES = (OSError, http.client.HTTPException)


@dataclass(frozen=True, slots=True)
class Answer:
    status: int
    headers: http.client.HTTPMessage
    text: str

    @property
    def location(self) -> str:
        return self.headers.get("Location", "")


class Visitor:
    """Sends requests to one server. A request without an answer raises one of FAILURES; the next one reconnects."""

    def __init__(self, address: str, *, timeout: float = PATIENCE_S):
        self.host = urlsplit(address).netloc
        self.timeout = timeout
        self.cookies: dict[str, str] = {}
        self.connection = None

    def get(self, path: str) -> Answer:
        return self._ask("GET", path)

    def post(self, path: str, data: dict, *, htmx: bool = False) -> Answer:
        """Send a form with the token that the cookie holds."""
        headers = {
            "Content-Type": "application/x-www-form-urlencoded",
            "X-CSRFToken": self.cookies.get("csrftoken", ""),
        }
        return self._ask("POST", path, urlencode(data), headers | ({"HX-Request": "true"} if htmx else {}))

    def send_file(self, path: str, content: bytes, *, name: str = "file", htmx: bool = False, **fields: str) -> Answer:
        """Send a form with a file in its field `name`."""
        part = '--{}\r\nContent-Disposition: form-data; name="{}"\r\n\r\n{}\r\n'
        head = "".join(part.format(BOUNDARY, field, value) for field, value in fields.items())
        head += f'--{BOUNDARY}\r\nContent-Disposition: form-data; name="{name}"; filename="file"\r\n\r\n'
        headers = {
            "Content-Type": f"multipart/form-data; boundary={BOUNDARY}",
            "X-CSRFToken": self.cookies.get("csrftoken", ""),
            **({"HX-Request": "true"} if htmx else {}),
        }
        return self._ask("POST", path, head.encode() + content + f"\r\n--{BOUNDARY}--\r\n".encode(), headers)

    def log_in(self, username: str, password: str) -> None:
        """Fill the login form. Raise AssertionError with the answer if it fails."""
        self.get("/login/")
        answer = self.post("/login/", {"username": username, "password": password})
        assert answer.status == 302, f"{username} is not let in: {answer.status} {answer.text[:2000]}"

    def close(self) -> None:
        if self.connection:
            self.connection.close()
            self.connection = None

    def _ask(self, method, path, body=None, headers=None):
        self._leave_if_closed()
        if self.connection is None:
            self.connection = http.client.HTTPConnection(self.host, timeout=self.timeout)
        cookie = "; ".join(f"{name}={value}" for name, value in self.cookies.items())
        try:
            self.connection.request(method, path, body, {"Cookie": cookie, **(headers or {})})
            response = self.connection.getresponse()
            text = response.read().decode("utf-8", errors="replace")
        except FAILURES:
            self.close()
            raise
        for line in response.headers.get_all("Set-Cookie", ()):
            self.cookies |= {name: morsel.value for name, morsel in SimpleCookie(line).items()}
        if response.headers.get("Connection") == "close":
            self.close()
        return Answer(response.status, response.headers, text)

    def _leave_if_closed(self):
        """Like a browser, do not reuse a connection that the server closed while idle."""
        if self.connection and self.connection.sock and select.select([self.connection.sock], [], [], 0)[0]:
            self.close()


def hidden_value(text: str, name: str) -> str:
    """Return the value of a hidden field in a page or fragment, empty without one."""
    found = re.search(rf'name="{re.escape(name)}" value="([^"]*)"', text)
    return found[1] if found else ""
