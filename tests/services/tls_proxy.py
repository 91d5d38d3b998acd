"""A proxy that speaks https: python -m tests.services.tls_proxy CERTIFICATE KEY PORT WEB_PORT

It does what every proxy in front of Bobbin must do: drop the client's header about the protocol, and set its own to
https. One request a connection keeps it small.
"""

import asyncio
import ssl
import subprocess
import sys
from pathlib import Path

DROPPED = (b"x-forwarded-proto:", b"connection:")
SAID = b"\r\nX-Forwarded-Proto: https\r\nConnection: close\r\n\r\n"


def make_certificate(folder: Path) -> tuple[Path, Path]:
    """Make a certificate for localhost that only a test trusts; return it and its key."""
    certificate, key = folder / "certificate.pem", folder / "key.pem"
    subject = ["-subj", "/CN=localhost", "-addext", "subjectAltName=DNS:localhost"]
    command = ["openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes"]
    command += [*subject, "-days", "2", "-keyout", str(key), "-out", str(certificate)]
    subprocess.run(command, check=True, capture_output=True)
    return certificate, key


async def serve(certificate: str, key: str, port: int, web_port: int) -> None:
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(certificate, key)

    async def handle(reader, writer):
        try:
            await _pass_on(reader, writer, web_port)
        except (OSError, asyncio.IncompleteReadError):
            pass  # one side closed: close the other connection
        finally:
            writer.close()

    server = await asyncio.start_server(handle, "127.0.0.1", port, ssl=context, limit=1 << 20)
    async with server:
        await server.serve_forever()


async def _pass_on(reader, writer, web_port: int) -> None:
    head = await reader.readuntil(b"\r\n\r\n")
    lines = [line for line in head[:-4].split(b"\r\n") if not line.lower().startswith(DROPPED)]
    web_reader, web_writer = await asyncio.open_connection("127.0.0.1", web_port)
    try:
        web_writer.write(b"\r\n".join(lines) + SAID)
        body = asyncio.create_task(_copy(reader, web_writer))
        await _copy(web_reader, writer)
        body.cancel()
    finally:
        web_writer.close()


async def _copy(reader, writer) -> None:
    while data := await reader.read(1 << 16):
        writer.write(data)
        await writer.drain()


if __name__ == "__main__":
    certificate, key, *ports = sys.argv[1:]
    asyncio.run(serve(certificate, key, *map(int, ports)))
