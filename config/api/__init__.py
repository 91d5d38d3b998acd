"""The JSON API: the routers of both apps under one address, with errors by RFC 9457 and an OpenAPI document."""
