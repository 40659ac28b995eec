"""The building blocks of the pages: what each draws, what it leaves out, and what it must never say."""

import re
from pathlib import Path

import pytest
from django import forms
from django.template import Context, Template
from django.template.loader import render_to_string
from django.utils.translation import override

PARTS = Path(__file__).parents[2] / "config" / "templates" / "parts"
STANDINGS = {
    "below": "Below action level",
    "either_side": "Could be either side",
    "above": "Above action level",
    "not_enough": "Not enough to say",
    "trend": "Board: trend only",
    "none": "No count yet",
}
VERDICTS = {
    "worked": "Worked",
    "fell_short": "Fell short",
    "did_not_work": "Did not work",
    "cannot_tell": "Can't tell yet",
    "too_early": "Too early",
    "no_before_count": "No before-count",
}
RECOUNTS = {
    "not_due": "Recount not due",
    "due": "Recount due",
    "late": "Recount late",
    "done": "Recounted",
    "skipped": "Recount skipped",
}
STATES = [
    (part, key, words)
    for part, all_words in (("standing", STANDINGS), ("verdict", VERDICTS), ("recount_status", RECOUNTS))
    for key, words in all_words.items()
]


class CountForm(forms.Form):
    mites = forms.IntegerField(error_messages={"required": "Enter the number of mites, even if it is 0"})
    method = forms.ChoiceField(
        choices=[("wash", "Alcohol wash"), ("board", "Board")], widget=forms.RadioSelect
    )
    note = forms.CharField(required=False, help_text="Anything odd")


def draw(part: str, **context: object) -> str:
    return render_to_string(f"parts/{part}.html", context)


def shape(html: str) -> str:
    return re.search(r"<svg.*?</svg>", html, re.DOTALL)[0]


@pytest.mark.parametrize(("part", "key", "words"), STATES)
def test_a_state_is_words_and_a_shape(part, key, words):
    html = draw(part, key=key)
    assert words in html.replace("&#x27;", "'")
    assert 'aria-hidden="true"' in shape(html)


def test_every_state_has_a_shape_of_its_own():
    shapes = [shape(draw(part, key=key)) for part, key, _ in STATES]
    assert len(set(shapes)) == len(STATES)


def test_an_empty_stepper_has_no_number():
    html = draw("stepper", field=CountForm()["mites"])
    assert 'value=""' in html
    assert 'inputmode="numeric"' in html and 'type="number"' not in html


@pytest.mark.parametrize("typed", ["0", "12", "many"])
def test_a_stepper_keeps_what_was_typed(typed):
    assert f'value="{typed}"' in draw("stepper", field=CountForm({"mites": typed})["mites"])


@pytest.mark.parametrize("part", ["stepper", "field"])
def test_an_error_stands_beside_its_field_and_is_tied_to_it(part):
    html = draw(part, field=CountForm({"mites": ""})["mites"])
    assert "Error: Enter the number of mites, even if it is 0" in html
    assert 'aria-invalid="true"' in html
    tied = re.search(r'aria-describedby="\s*([^"]+?)\s*"', html)[1].split()
    assert all(f'id="{name}"' in html for name in tied)


def test_a_hint_is_tied_to_its_field():
    html = draw("field", field=CountForm()["note"])
    assert 'aria-describedby="id_note_helptext"' in html and 'id="id_note_helptext"' in html
    assert "(optional)" in html


def test_the_error_summary_links_to_boxes_that_exist():
    form = CountForm({"mites": "", "method": ""})
    page = draw("stepper", field=form["mites"]) + draw("field", field=form["method"])
    targets = re.findall(r'href="#([^"]+)"', draw("error_summary", form=form))
    assert len(targets) == 2
    assert all(f'id="{target}"' in page for target in targets)


def test_the_error_summary_is_silent_without_errors():
    assert not draw("error_summary", form=CountForm()).strip()


def test_a_rate_comes_with_its_range_and_its_bees():
    html = draw("figure", rate=3, low=1.35, high=6.69, unit="per 100 bees", raw="9 in 300 bees")
    words = " ".join(re.sub(r"<[^>]+>", "", html).split())
    assert words == "3.0 per 100 bees (1.4 to 6.7) · 9 in 300 bees"


def test_no_mites_found_still_says_how_many_there_could_be():
    html = draw("figure", rate=0, low=0, high=1.2, none_found=True, unit="per 100 bees", raw="0 in 300 bees")
    assert "None found" in html and "up to 1.2 per 100 bees" in html


def test_a_missing_rate_is_not_drawn_as_zero():
    html = draw("figure", rate=None, low=None, high=None, unit="per 100 bees", raw="no samples")
    assert "No estimate" in html and "0.0" not in html


def test_a_range_bar_says_in_words_what_it_shows():
    places = {"x_low": 135, "x_point": 300, "x_high": 669, "x_level": 200}
    html = draw(
        "range_bar", low=1.35, point=3, high=6.69, level=2, unit="per 100 bees", scale_max=10, **places
    )
    assert 'aria-label="Estimate 3.0, range 1.4 to 6.7 per 100 bees; action level 2; scale 0 to 10"' in html
    assert 'x1="13.5%"' in html and 'cx="30%"' in html


def test_a_range_bar_without_an_action_level_draws_none():
    html = draw(
        "range_bar", low=1, point=2, high=4, unit="per day", scale_max=5, x_low=200, x_point=400, x_high=800
    )
    assert "action level" not in html


def test_the_broken_page_needs_no_context():
    assert "Something broke here" in Template((PARTS.parent / "500.html").read_text()).render(Context())


@pytest.mark.parametrize("name", ["400", "404", "500"])
def test_an_error_page_without_a_request_names_its_language(name):
    with override("de"):
        assert '<html lang="de">' in render_to_string(f"{name}.html")
    with override(None):
        assert '<html lang="en-gb">' in render_to_string(f"{name}.html")


@pytest.mark.parametrize("name", ["400", "403", "403_csrf", "404"])
def test_an_error_page_stands_without_a_request(name):
    html = render_to_string(f"{name}.html")
    assert html.count("<h1>") == 1 and "· Recount</title>" in html


def test_a_page_with_problems_says_so_in_its_title():
    page = Template('{% extends "base.html" %}{% block title %}Add a count{% endblock %}')
    assert "<title>Error: Add a count · Recount</title>" in page.render(Context({"form": CountForm({})}))
    assert "<title>Add a count · Recount</title>" in page.render(Context({"form": CountForm()}))


def test_the_demo_says_that_it_is_invented():
    words = "Demo: everything here is invented."
    assert words in render_to_string("base.html", {"demo": True})
    assert words not in render_to_string("base.html", {"demo": False})


@pytest.mark.parametrize(("part", "key", "words"), STATES)
def test_a_state_in_a_row_is_drawn_as_its_part_is_in_every_language(part, key, words):
    row = Template(f"{{% load states %}}{{% state '{part}' key %}}")

    for language in ("en", "de", "en"):
        with override(language):
            assert row.render(Context({"key": key})) == draw(part, key=key)
    assert words in row.render(Context({"key": key}))


def test_a_state_escapes_its_key():
    drawn = Template("{% load states %}{% state 'verdict' key %}").render(Context({"key": '"><b>'}))

    assert "<b>" not in drawn
