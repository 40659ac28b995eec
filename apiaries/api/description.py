"""How the interface describes itself (OpenAPI 3.1)."""

from drf_spectacular.extensions import OpenApiAuthenticationExtension


class TokenScheme(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]
    """How the description of the interface names it."""

    target_class = "apiaries.api.tokens.ByToken"
    name = "token"

    def get_security_definition(self, auto_schema: object) -> dict[str, str]:
        """Bearer tokens (RFC 6750)."""
        return {
            "type": "http",
            "scheme": "bearer",
            "description": "A token made on the page Access of other programs, with the scopes named there.",
        }
