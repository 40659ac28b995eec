"""Static files are packed alike on every machine."""

import importlib.util

from config.static_files import PackedFiles


def test_brotli_of_another_package_packs_nothing() -> None:
    assert importlib.util.find_spec("brotli")  # locust brings it: else this would say nothing

    assert not PackedFiles().create_compressor(quiet=True).use_brotli
