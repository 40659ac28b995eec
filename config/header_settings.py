"""Settings of the headers that tell a browser what our pages may do."""

from csp import constants as words

SECURE_REFERRER_POLICY = "same-origin"
SECURE_CROSS_ORIGIN_OPENER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
LARGEST_BODY = 21 * 1024 * 1024
"""Bytes of a request: the largest file that a form takes (20 MB) and what is around it."""
_NOT_USED = (
    "accelerometer",
    "ambient-light-sensor",
    "autoplay",
    "bluetooth",
    "browsing-topics",
    "camera",
    "display-capture",
    "encrypted-media",
    "gamepad",
    "geolocation",
    "gyroscope",
    "hid",
    "idle-detection",
    "local-fonts",
    "magnetometer",
    "microphone",
    "midi",
    "payment",
    "publickey-credentials-create",
    "publickey-credentials-get",
    "serial",
    "usb",
    "window-management",
    "xr-spatial-tracking",
)
"""What no page asks a browser for, so that no script may (W3C Permissions Policy; the names from memory)."""
EVERY_ANSWER = {
    "Permissions-Policy": ", ".join(f"{feature}=()" for feature in _NOT_USED),
    "Cross-Origin-Resource-Policy": "same-origin",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": SECURE_REFERRER_POLICY,
    "Cross-Origin-Opener-Policy": SECURE_CROSS_ORIGIN_OPENER_POLICY,
    "X-Frame-Options": X_FRAME_OPTIONS,
}
"""Set where a view said nothing else: pages, files, refusals, and what is refused before any page is asked."""

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [words.NONE],
        "script-src": [words.SELF, words.NONCE],
        "style-src": [words.SELF],
        "img-src": [words.SELF, "data:"],
        "connect-src": [words.SELF],
        "worker-src": [words.SELF],
        "manifest-src": [words.SELF],
        "font-src": [words.SELF],
        "form-action": [words.SELF],
        "base-uri": [words.NONE],
        "object-src": [words.NONE],
        "frame-ancestors": [words.NONE],
    }
}
