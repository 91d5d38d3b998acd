"""Seals find what a chain alone cannot: the newest records gone together with the head, or the chain written anew."""

from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from fleet.acting.covered import covered_models
from fleet.models import JournalLink
from inspections.chain.seals import SealError, read_seals, seal_of, seals_of
from inspections.models import Amendment, ChainEntry, ChainHead, Inspection, Result, SignedRecord
from inspections.records.content import digest_of
from tests.inspections.chain.test_against import after, troubles

FORM = "bobbin-seal 1 site=3 code=north entry=12 sha256=" + "a" * 64 + " at=2026-11-25T10:00:00+00:00"


def cut_newest(store):
    """Take the newest record out with everything that speaks of it, and set the head back."""
    entry = ChainEntry.objects.filter(site=store.site).last()
    inspection = entry.inspection_id
    before = ChainEntry.objects.get(site=store.site, sequence=entry.sequence - 1)
    entry.delete()
    SignedRecord.objects.filter(inspection=inspection).delete()
    for result in Result.objects.filter(step__inspection=inspection):
        result.findings.all().delete()
    Inspection.objects.filter(pk=inspection).delete()
    ChainHead.objects.filter(site=store.site).update(sequence=before.sequence, digest=before.digest, at=before.at)


def test_a_seal_reads_back_as_it_was_printed(store):
    seals = seals_of()
    assert read_seals("# heading\n\n" + "\n".join(map(str, seals))) == seals
    assert {seal.code for seal in seals} == {store.site.code, store.elsewhere.machine.site.code, "journal"}


def test_sealed_chains_verify(store):
    assert troubles(seals=seals_of()) == []


def test_the_newest_record_cut_off_with_its_head_shows_by_the_seal_alone(store):
    seals = seals_of()
    assert after(lambda: cut_newest(store)) == []
    [trouble] = after(lambda: cut_newest(store), seals=seals)
    assert (trouble.kind, trouble.site, trouble.sequence) == ("removed", store.site.code, 5)


def test_a_chain_written_anew_shows_by_the_seal(store):
    seals = seals_of()

    def write_anew():
        entry = ChainEntry.objects.filter(site=store.elsewhere.machine.site).get()
        content = entry.content.replace('"kind":"signed"', '"kind":"signed","more":1')
        ChainEntry.objects.filter(pk=entry.pk).update(content=content, digest=digest_of(content))
        ChainHead.objects.filter(site=entry.site).update(digest=digest_of(content))

    assert after(write_anew) == []
    [trouble] = after(write_anew, seals=seals)
    assert (trouble.kind, trouble.field, trouble.inspection) == ("altered", "digest", store.records[2].pk)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "holds no seal"),
        ("bobbin-seal 1 site=x", "Line 1 is not a seal"),
        (FORM + "\n" + FORM.replace("a" * 64, "a" * 63), "Line 2 is not a seal"),
        (FORM.replace("2026-11-25T10:00:00+00:00", "yesterday"), "Line 1 is not a seal"),
    ],
)
def test_a_seal_file_that_cannot_be_read_says_where_and_what_is_accepted(text, sentence):
    with pytest.raises(SealError, match=sentence) as refused:
        read_seals(text)
    assert "bobbin-seal 1 site=NUMBER" in str(refused.value)


def rows_of_journal():
    """Every row of a covered table, by the models."""
    return [row for model in covered_models() for row in model._base_manager.values_list("pk")]


def command(*arguments):
    """What a command printed."""
    out = StringIO()
    call_command(*arguments, stdout=out)
    return out.getvalue()


def test_the_commands_seal_and_verify(store, tmp_path):
    (tmp_path / "seal").write_text(command("seal"), encoding="utf-8")
    said = command("verify_records", "--seal", str(tmp_path / "seal"))
    rows, links = len(list(rows_of_journal())), JournalLink.objects.count()
    assert said == f"3 records, 6 entries, 2 sites, {rows} rows, {links} journal entries, 3 seals: all as signed.\n"
    assert "1 records, 1 entries" in command("verify_records", "--site", store.elsewhere.machine.site.code)


def test_the_command_ends_with_1_for_trouble_and_2_for_what_it_cannot_read(store, tmp_path):
    amendment = Amendment.objects.first()

    def change():
        Amendment.objects.filter(pk=amendment.pk).update(reason="Another")
        with pytest.raises(CommandError) as refused:
            command("verify_records")
        assert refused.value.returncode == 1

    assert len(after(change)) == 1
    for arguments in (("--site", "nowhere"), ("--seal", str(tmp_path / "none"))):
        with pytest.raises(CommandError) as refused:
            command("verify_records", *arguments)
        assert refused.value.returncode == 2


def test_a_seal_names_the_newest_entry(store):
    head = ChainHead.objects.select_related("site").get(site=store.site)
    assert seal_of(head).sequence == 5
