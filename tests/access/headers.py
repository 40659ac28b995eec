"""What every answer must carry, whoever made it."""

from typing import Any


def check_headers(response: Any, url: str) -> None:
    """Assert it of one answer; `url` is told where it is not so."""
    policy = _policy(response)
    assert policy["default-src"] == ["'none'"], url
    assert policy["frame-ancestors"] == policy["base-uri"] == policy["object-src"] == ["'none'"], url
    assert policy["form-action"] == ["'self'"], url
    assert not {"'unsafe-inline'", "'unsafe-eval'", "*", "https:"} & set(sum(policy.values(), [])), url
    assert response["X-Content-Type-Options"] == "nosniff", url
    assert response["Referrer-Policy"] in ("same-origin", "no-referrer"), url
    assert response["Cross-Origin-Resource-Policy"] == "same-origin", url
    assert {"camera=()", "geolocation=()", "microphone=()"} <= set(
        response["Permissions-Policy"].split(", ")
    ), url
    assert response["Cross-Origin-Opener-Policy"] == "same-origin", url
    assert response["X-Frame-Options"] == "DENY", url
    if response.get("Content-Type", "").startswith("text/"):
        assert "charset=utf-8" in response["Content-Type"].lower().replace('"', ""), url
    for telling in ("Server", "X-Powered-By", "Access-Control-Allow-Origin"):
        assert telling not in response, url


def _policy(response: Any) -> dict[str, list[str]]:
    parts = [part.split() for part in response["Content-Security-Policy"].split(";")]
    return {words[0]: words[1:] for words in parts if words}
