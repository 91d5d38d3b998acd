"""What browsers may load and run on Bobbin's pages."""

from csp.constants import NONE, SELF

# Nothing inline, nothing from elsewhere: scripts and styles are files of ours; drawings are inline SVG without styles.
# Only static/bobbin/trusted.js turns text into markup; nothing turns text into a script. The policy bobbin-worker has
# one value, the address of the service worker (static/bobbin/offline/page.js).
CONTENT_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF],
        "font-src": [SELF],
        "connect-src": [SELF],
        "worker-src": [SELF],
        "form-action": [SELF],
        "base-uri": [NONE],
        "frame-ancestors": [NONE],
        "require-trusted-types-for": ["'script'"],
        "trusted-types": ["default", "bobbin-reading", "bobbin-worker"],
    }
}
UNUSED_FEATURES = (
    "accelerometer", "autoplay", "camera", "display-capture", "encrypted-media", "fullscreen", "geolocation",
    "gyroscope", "magnetometer", "microphone", "midi", "payment", "picture-in-picture", "screen-wake-lock",
    "sync-xhr", "usb", "xr-spatial-tracking",
)  # fmt: skip


class UnusedFeatures:
    """Forbid the browser the camera, the location and similar sensors on every page."""

    value = ", ".join(f"{name}=()" for name in UNUSED_FEATURES)

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        response = self.get_response(request)
        response.setdefault("Permissions-Policy", self.value)
        return response
