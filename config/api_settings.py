"""Settings of the interface for other programs."""

from typing import Any

API_APPS = ("rest_framework", "drf_spectacular", "drf_spectacular_sidecar")

REST_FRAMEWORK: dict[str, Any] = {
    "DEFAULT_AUTHENTICATION_CLASSES": [
        "apiaries.api.tokens.ByToken",  # the first one says how to sign in (401)
        "apiaries.api.tokens.ByBrowser",
    ],
    "DEFAULT_PERMISSION_CLASSES": ["apiaries.api.tokens.InScope"],
    "DEFAULT_THROTTLE_CLASSES": [
        "apiaries.api.throttles.Reads",
        "apiaries.api.throttles.Writes",
        "apiaries.api.throttles.Strangers",
    ],
    "DEFAULT_THROTTLE_RATES": {
        "reads": "600/m",
        "writes": "120/m",
        "strangers": "30/m",
        "failed_tokens": "30/m",
    },
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["apiaries.api.reading.StrictJson"],
    "DEFAULT_METADATA_CLASS": None,
    "DEFAULT_SCHEMA_CLASS": "apiaries.api.description.Description",
    "EXCEPTION_HANDLER": "apiaries.api.problems.handler",
    "NON_FIELD_ERRORS_KEY": "general",
    "URL_FORMAT_OVERRIDE": None,
}

SPECTACULAR_SETTINGS: dict[str, Any] = {
    "TITLE": "Recount",
    "DESCRIPTION": "Yards, counts, treatments and region figures of beekeeping clubs, for other programs.",
    "VERSION": "1",
    "OAS_VERSION": "3.1.0",
    "SCHEMA_PATH_PREFIX": r"/api/v1",
    "COMPONENT_SPLIT_REQUEST": True,
    "ENUM_GENERATE_CHOICE_DESCRIPTION": False,
    "POSTPROCESSING_HOOKS": ["apiaries.api.description.with_problems"],  # choices stay where they are named
}
