"""Bobbin on a device without a network: the service worker, who is signed in, and the page of what waits there."""
