"""What an answer about known holes is worth: recorded answers, and a tool that is not there."""

import sys
from pathlib import Path

import pytest

from tests.supply import audit
from tests.supply.audit import PINS, judge, pinned

ANSWERS = Path(__file__).parent / "answers"
THREE = pinned("# pins\naiosmtpd==1.4.6\naltair==6.3.0\namqp==5.4.2\n")


def answer(name: str) -> str:
    return (ANSWERS / f"{name}.json").read_text()


def test_none_known_is_said_only_of_all() -> None:
    verdict = judge(THREE, answer("none"), "")

    assert (verdict.ran, verdict.known) == (True, ())
    assert verdict.text() == "No hole is known in any of 3 pinned packages."


def test_found_is_named_with_what_mends_it() -> None:
    verdict = judge(THREE, answer("found"), "")

    assert verdict.text() == "KNOWN HOLE  altair 6.3.0: PYSEC-2099-1, mended in 6.3.1"


def test_skipped_is_not_run_whatever_the_tool_says() -> None:
    """As recorded where the service was out of reach: exit 0, and "No known vulnerabilities found"."""
    verdict = judge(THREE, answer("skipped"), "No known vulnerabilities found")

    assert not verdict.ran
    assert verdict.text().startswith(
        "NOT RUN  0 of 3 pinned packages were asked about; not about aiosmtpd, altair, amqp."
    )


def test_one_pin_left_out_is_not_run() -> None:
    assert judge(THREE | {"babel": "2.19.0"}, answer("none"), "").unasked == ("babel",)


def test_another_version_than_the_pinned_one_is_not_run() -> None:
    assert judge(THREE | {"amqp": "5.4.3"}, answer("none"), "").unasked == ("amqp",)


def test_hole_is_told_although_others_were_skipped() -> None:
    verdict = judge(THREE | {"babel": "2.19.0"}, answer("found"), "")

    assert (len(verdict.known), verdict.ran) == (1, False)
    assert "KNOWN HOLE" in verdict.text() and "NOT RUN" in verdict.text()


@pytest.mark.parametrize("out", ["", "{}", "[]", '{"dependencies": null}', "<html>"])
def test_no_answer_is_not_run_with_the_last_words(out: str) -> None:
    verdict = judge(THREE, out, "Traceback\nConnectionError: no route to host\n")

    assert not verdict.ran
    assert verdict.text().endswith("ConnectionError: no route to host")


def test_no_pins_is_not_run() -> None:
    assert not judge({}, '{"dependencies": []}', "").ran


@pytest.mark.parametrize(
    "name, code, said", [("none", 0, "NOT RUN"), ("found", 1, "KNOWN HOLE"), ("skipped", 0, "NOT RUN")]
)
def test_exit_code_fails_only_for_a_hole(
    name: str, code: int, said: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(
        audit, "COMMAND", [sys.executable, "-c", f"print(open({str(ANSWERS / f'{name}.json')!r}).read())"]
    )

    assert audit.main() == code
    assert said in capsys.readouterr().out


def test_tool_that_is_not_there_is_not_run(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(audit, "COMMAND", ["/nowhere/at/all"])

    assert audit.main() == 0
    assert "NOT RUN" in capsys.readouterr().out


def test_all_pins_are_read() -> None:
    lines = [line for line in PINS.read_text().splitlines() if line and line[0] != "#"]

    assert len(pinned(PINS.read_text())) == len(lines) > 100
