"""How static files are packed for a real service."""

from typing import Any

from whitenoise.compress import Compressor
from whitenoise.storage import CompressedManifestStaticFilesStorage


class PackedFiles(CompressedManifestStaticFilesStorage):
    """With fingerprints and gzip, on every machine alike.

    WhiteNoise also packs with Brotli wherever some other package brought it, at its slowest setting: that took most of
    a minute for a few percent.
    """

    def create_compressor(self, **options: Any) -> Compressor:
        return Compressor(**options, use_brotli=False)
