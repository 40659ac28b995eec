"""Voided counts that count again, and corrections that carry the version they correct."""

from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from counts.actions import AlreadyVoided, ChangedSince, correct_sample, void_sample
from counts.change_actions import NotVoided, Replaced, in_its_place, restore_sample
from counts.models import MiteSample, SampleRestored
from counts.signals import samples_changed
from tests.cast import Cast
from tests.counts.counting import AT, kept, typed, wash


@pytest.fixture
def sample(cast: Cast) -> MiteSample:
    return kept(cast.colony, cast.alice, mites=9)


@pytest.fixture
def alice(cast: Cast, client_for: Any) -> Client:
    return client_for(cast.alice)


def void(sample: MiteSample, cast: Cast, **more: Any) -> MiteSample:
    return void_sample(sample=sample, why="spilt", at=AT, by=cast.alice, **more)


def restore(sample: MiteSample, cast: Cast, **more: Any) -> MiteSample:
    return restore_sample(sample=sample, why="the other jar", at=AT, by=cast.alice, **more)


def correct(sample: MiteSample, cast: Cast, mites: int, **more: Any) -> MiteSample:
    count = wash(sample.colony, mites)
    return correct_sample(sample=sample, count=count, why="misread", at=AT, by=cast.alice, **more)


def url(name: str, sample: MiteSample) -> str:
    return reverse(f"counts:sample-{name}", args=[sample.pk])


# ---------- what must not happen


def test_count_that_stands_is_not_restored(cast: Cast, sample: MiteSample) -> None:
    with pytest.raises(NotVoided):
        restore(sample, cast)

    assert not SampleRestored.objects.exists()


def test_corrected_count_is_not_restored_beside_its_correction(cast: Cast, sample: MiteSample) -> None:
    second = correct(sample, cast, 7)
    third = correct(second, cast, 6)

    for old in (sample, second):
        with pytest.raises(Replaced):
            restore(old, cast)
    assert list(MiteSample.objects.standing()) == [third] == [in_its_place(sample)]


def test_correction_is_not_restored_beside_the_count_that_it_corrected(
    cast: Cast, sample: MiteSample
) -> None:
    second = correct(sample, cast, 7)
    void(second, cast)
    restore(sample, cast)

    with pytest.raises(Replaced):
        restore(second, cast)


@pytest.mark.parametrize("change", [void, restore])
def test_yard_is_locked_before_any_count(cast: Cast, sample: MiteSample, change: Any) -> None:
    """Two that take their locks in different order would wait for each other for ever."""
    if change is restore:
        void(sample, cast)

    with CaptureQueriesContext(
        connection,
    ) as asked:
        change(sample, cast)

    locks = [
        query["sql"] for query in asked if " FOR UPDATE" in query["sql"] or " FOR NO KEY" in query["sql"]
    ]
    assert 'FROM "apiaries_yard"' in locks[0] and str(sample.yard_id) in locks[0]
    assert ['FROM "apiaries_yard"' in lock for lock in locks].count(True) == 1
    assert any('FROM "counts_mitesample"' in lock for lock in locks[1:])


def test_older_version_is_not_restored(cast: Cast, sample: MiteSample) -> None:
    seen = void(sample, cast).version
    void(restore(sample, cast, seen=seen), cast)

    with pytest.raises(ChangedSince):
        restore(sample, cast, seen=seen)
    assert SampleRestored.objects.count() == 1 and not MiteSample.objects.standing().exists()

    restore(sample, cast, seen=seen + 2)
    with pytest.raises(ChangedSince):  # and not that it stands: it is not what they read
        restore(sample, cast, seen=seen + 2)


def test_older_version_neither_corrects_nor_voids(cast: Cast, sample: MiteSample) -> None:
    seen = sample.version
    restore(void(sample, cast), cast)

    with pytest.raises(ChangedSince):
        correct(sample, cast, 7, seen=seen)
    with pytest.raises(ChangedSince):
        void(sample, cast, seen=seen)
    with pytest.raises(AlreadyVoided):
        void(void(sample, cast), cast)
    assert MiteSample.objects.count() == 1


# ---------- restoring


def test_restored_count_counts_again_and_others_hear_of_it(cast: Cast, sample: MiteSample) -> None:
    void(sample, cast)
    heard: list[Any] = []

    def hear(touched: Any, **_: Any) -> None:
        heard.append(touched)

    samples_changed.connect(hear)
    try:
        restored = restore(sample, cast)
    finally:
        samples_changed.disconnect(hear)

    assert list(MiteSample.objects.standing()) == [restored]
    assert (restored.voided_at, restored.voided_by, restored.voided_why) == (None, None, "")
    assert heard == [frozenset({(cast.alice_yard.pk, sample.sampled_on.replace(day=1))})]
    lifted = SampleRestored.objects.get()
    assert (lifted.voided_why, lifted.restored_why, lifted.restored_by) == (
        "spilt",
        "the other jar",
        cast.alice,
    )


def test_count_whose_correction_was_voided_can_be_restored_and_corrected_anew(
    cast: Cast, sample: MiteSample
) -> None:
    void(correct(sample, cast, 7), cast)
    restored = restore(sample, cast)
    again = correct(restored, cast, 6)

    assert in_its_place(sample) == again
    assert [one.mites for one in MiteSample.objects.standing()] == [6]


def test_version_rises_with_every_void_and_restoration(cast: Cast, sample: MiteSample) -> None:
    versions = [sample.version]
    for change in (void, restore, void, restore):
        versions.append(change(sample, cast).version)

    assert versions == [0, 1, 2, 3, 4]


# ---------- pages


def test_page_offers_to_restore_and_shows_both_reasons(alice: Client, cast: Cast, sample: MiteSample) -> None:
    void(sample, cast)
    page = alice.get(url("detail", sample)).content.decode()
    assert url("restore", sample) in page and url("correct", sample) not in page

    refused = alice.post(url("restore", sample), {"why": ""}).content.decode()
    assert "Say why it counts again" in refused
    page = alice.post(url("restore", sample), {"why": "the other jar"}, follow=True).content.decode()

    assert "Voided by Alice" in page.split("<s>")[1].split("</s>")[0]
    assert "the other jar" in page and url("correct", sample) in page
    again = alice.get(url("restore", sample), follow=True).content.decode()
    assert "This count stands. Nothing was changed." in again


def test_page_of_a_corrected_count_offers_no_restoring(alice: Client, cast: Cast, sample: MiteSample) -> None:
    correct(sample, cast, 7)

    assert url("restore", sample) not in alice.get(url("detail", sample)).content.decode()
    refused = alice.post(url("restore", sample), {"why": "no"}).content.decode()
    assert "Another count stands in its place" in refused


def test_correction_of_an_older_version_shows_both_and_overwrites_nothing(
    alice: Client, cast: Cast, client_for: Any, sample: MiteSample
) -> None:
    bobs = kept(cast.colonies[1], cast.bob, mites=4)
    opened = client_for(cast.bob).get(url("correct", bobs))
    assert 'name="seen" value="0"' in opened.content.decode()
    second = correct(bobs, cast, 5)

    sent = typed(mites=12, why="my slip says so", seen=opened.context["seen"])
    answer = alice.post(url("correct", bobs), sent)

    page = answer.content.decode()
    assert "changed since you opened the form" in page and "Alice corrected it" in page
    assert "5 in about 300 bees" in page and 'value="12"' in page and "my slip says so" in page
    assert set(MiteSample.objects.standing()) == {sample, second}

    # Bob may change his own counts, not what the keeper put in their place.
    his = client_for(cast.bob).post(url("correct", bobs), sent).content.decode()
    assert "Only the keeper can change" in his and 'value="12"' in his

    # Looked at and sent again, it corrects what stands now.
    assert f'action="{url("correct", second)}"' in page
    done = alice.post(url("correct", second), sent | {"seen": str(answer.context["seen"])})
    assert done.status_code == 302
    assert in_its_place(bobs).mites == 12


def test_correction_of_a_count_that_was_voided_meanwhile_keeps_what_was_typed(
    alice: Client, cast: Cast, sample: MiteSample
) -> None:
    void(sample, cast)

    page = alice.post(url("correct", sample), typed(mites=12, why="x", seen=0)).content.decode()

    assert "It does not count any more" in page and 'value="12"' in page
    assert MiteSample.objects.count() == 1


def test_correction_of_a_count_that_was_voided_and_restored_meanwhile(
    alice: Client, cast: Cast, sample: MiteSample
) -> None:
    restore(void(sample, cast), cast)

    answer = alice.post(url("correct", sample), typed(mites=12, why="x", seen=0))
    assert "Alice restored it" in answer.content.decode()

    done = alice.post(url("correct", sample), typed(mites=12, why="x", seen=answer.context["seen"]))
    assert done.status_code == 302 and in_its_place(sample).mites == 12


def test_void_of_an_older_version_says_so(alice: Client, cast: Cast, sample: MiteSample) -> None:
    restore(void(sample, cast), cast)

    page = alice.post(url("void", sample), {"why": "spilt", "seen": "0"}).content.decode()

    assert "since you opened this page" in page
    assert MiteSample.objects.standing().count() == 1


def test_restoring_an_older_version_says_so(alice: Client, cast: Cast, sample: MiteSample) -> None:
    void(sample, cast)
    opened = alice.get(url("restore", sample))
    assert 'name="seen" value="1"' in opened.content.decode()
    void(restore(sample, cast), cast)

    page = alice.post(url("restore", sample), {"why": "my jar", "seen": "1"}).content.decode()

    assert "since you opened this page" in page and 'value="my jar"' in page
    assert not MiteSample.objects.standing().exists()
