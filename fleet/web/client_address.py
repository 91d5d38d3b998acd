"""The network address from which a request comes, for counting; it is never stored or logged.

Behind a proxy (TRUSTED_PROXY) it is the last address of X-Forwarded-For, which the proxy itself adds; whatever a
client sends in that header comes before it. Without one it is the address of the connection.
"""

from ipaddress import IPv6Address, ip_address, ip_network

from django.conf import settings
from django.utils.crypto import salted_hmac

HOUSEHOLD = 64  # bits of an IPv6 address that one customer of a network is given whole. Source: RFC 6177, from memory


def client_address(remote: str, forwarded: str) -> str:
    """Return the address that is counted: of IPv6 its network of 64 bits; empty if none can be read.

    remote     of the connection, REMOTE_ADDR
    forwarded  the header X-Forwarded-For, or empty
    """
    named = forwarded.rpartition(",")[2].strip() if settings.TRUSTED_PROXY else ""
    return _counted(named) or _counted(remote)


def address_of(request) -> str:
    return client_address(request.META.get("REMOTE_ADDR", ""), request.META.get("HTTP_X_FORWARDED_FOR", ""))


def address_sign(address: str) -> str:
    """Return a sign of an address for counting, from which nobody can tell the address without the secret key."""
    return salted_hmac("fleet.web.client_address", address).hexdigest()[:24]


def _counted(text):
    try:
        address = ip_address(text)
    except ValueError:
        return ""
    if isinstance(address, IPv6Address):
        if address.ipv4_mapped:
            return str(address.ipv4_mapped)
        return str(ip_network((int(address), HOUSEHOLD), strict=False))
    return str(address)
