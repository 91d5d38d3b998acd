"""The models of fleet whose changes are recorded, and the content that is compared."""

from hashlib import sha256

from django.utils.crypto import salted_hmac

from fleet.acting.covered import leave_out
from fleet.catalogue.plausibility import SCALE_NUMBERS
from fleet.changes import track
from fleet.models import (
    AlterationEffect,
    AlterationOfMachine,
    AlterationPlan,
    AlterationPrice,
    ApiToken,
    Area,
    AwayPeriod,
    Calibration,
    CircuitChange,
    CircuitCover,
    CircuitReading,
    ColumnMapping,
    Component,
    CostRate,
    CoverHazard,
    CurrentState,
    CurrentStateRules,
    Digest,
    EarlierInspection,
    Heartbeat,
    Instrument,
    InstrumentScale,
    Job,
    JournalEntry,
    JournalHead,
    JournalLink,
    Machine,
    MachineCover,
    MachineModel,
    MachinePurchase,
    PasskeyChallenge,
    Person,
    RegisterUpload,
    ReplacementPrice,
    ServiceContract,
    Site,
    SiteCurrency,
    SoftwareVersion,
    SparePartCost,
    StartPutAway,
    UserInstruction,
    ValueMeaning,
    WaitingRow,
)


def model_features(model):
    return dict(sorted(model.features.values_list("feature", "state")))


def model_circuit(model):
    """A circuit file is too long for an entry: its length and the start of its SHA-256 identify it."""
    text = model.circuit.encode()
    return f"file of {len(text)} bytes, SHA-256 {sha256(text).hexdigest()[:16]}" if text else ""


def address_sign(person):
    """A sign that identifies an address without storing it: entries are permanent, and the address can be removed."""
    sign = salted_hmac("fleet.changes.tracked.address", person.email).hexdigest()[:8] if person.email else ""
    return f"address {sign}" if sign else ""


def _register_money():
    """Amounts have a page of changes each; they belong to a machine, a model or a site."""
    held = ("currency", "source", "withdrawn_by", "withdrawn_at", "withdrawn_reason")
    for model, label, *fields in (
        (MachinePurchase, "purchase", "machine", "bought_on", "price"),
        (ReplacementPrice, "replacement price", "model", "price", "priced_on"),
        (ServiceContract, "service contract", "machine", "model", "site", "provider", "yearly_cost", "from_date",
         "until_date"),
        (CostRate, "hourly rate", "site", "hour_cost", "from_date"),
        (SparePartCost, "cost of spare parts", "machine", "what", "cost", "bought_on"),
        (AlterationPrice, "price of an alteration", "feature", "model", "price", "minutes", "priced_on"),
    ):  # fmt: skip
        track(model, label, *fields, *held, permission="fleet.view_money")
    track(SiteCurrency, "currency", "currency", record="site")


def _register_alterations():
    plan = ("kind", "agent", "title", "reason", "from_date", "minutes_each", "price_each", "currency", "price_source")
    track(AlterationPlan, "alteration", *plan, permission="fleet.view_alterationplan")
    settled = ("state", "reason", "done_on", "evidence", "minutes", "cost", "currency", "settled_by", "settled_at")
    track(AlterationOfMachine, "machine of an alteration", "machine", *settled, record="plan")


def _register_machines():
    machine = ("asset_number", "serial", "model", "area", "built_year", "in_use_from", "status", "note")
    track(Machine, "machine", *machine, permission="fleet.view_machine")
    track(
        Component, "component", "kind", "label", "code", "gas", "part_number", "serial", "lot", "rated", "further",
        "options", "fitted_on", "removed_on", "note", record="machine",
    )  # fmt: skip
    circuit = ("verb", "changed_on", "words", "evidence", "undone_at", "undone_by", "undone_reason")
    track(CircuitChange, "circuit change", *circuit, record="machine")
    earlier = ("done_on", "procedure", "result", "done_by", "reference", "counts_as", "source")
    track(EarlierInspection, "earlier inspection", *earlier, record="machine")
    away = ("kind", "to_whom", "from_date", "expected_on", "reason", "note", "returned_on", "return_note")
    track(AwayPeriod, "away period", *away, record="machine")
    withdrawn = ("withdrawn_by", "withdrawn_at", "withdrawn_reason")
    software = ("part", "version", "installed_on", "source", *withdrawn)
    track(SoftwareVersion, "software version", *software, record="machine")
    instruction = ("machine", "machine_model", "area", "name", "held_on", "instructor", "topics", "valid_until")
    track(UserInstruction, "instruction", *instruction, "reference", *withdrawn, permission="fleet.view_machine")


def register():
    _register_money()
    _register_alterations()
    _register_machines()
    track(
        MachineModel, "model", "code", "manufacturer", "name", "first_built", "last_built", "standard", "gases",
        "vaporizer_positions", "lacks", "description", "parts_until", "support_note",
        "vapour_free_minutes", "vapour_free_source",
        readers={"Safety features when "
                 "new": model_features, "Gas circuit": model_circuit}, permission="fleet.view_machine",
    )  # fmt: skip
    second_person = ("two_for_release", "two_for_amendment", "two_for_finding", "two_for_limit", "signer_may_release",
                     "two_after_repair")  # fmt: skip
    site = (
        "code", "name", "altitude_m", "oxygen_grade", "oxygen_percent",
        "time_zone", "decimal_sign", "date_format", "paper_size", "preferred_units",
        "rule_set", *second_person, "has_label_page", "fault_phone", "check_list",
        "holiday_country", "holiday_subdivision", "needs_competence",
    )  # fmt: skip
    track(Site, "site", *site, permission="fleet.view_machine")
    track(Area, "area", "site", "name", "minimum_machines", permission="fleet.view_machine")
    instrument = ("code", "name", "serial", "site", "is_retired", "applies_corrections", "interval_months",
                  "longest_interval_months")  # fmt: skip
    track(Instrument, "instrument", *instrument, permission="fleet.view_instrument")
    track(InstrumentScale, "scale", "dimension", "unit", *SCALE_NUMBERS, record="instrument")
    calibration = ("calibrated_on", "due_on", "result", "certificate", "laboratory", "note", "points")
    track(Calibration, "calibration", *calibration, record="instrument")
    person = ("username", "first_name", "last_name", "is_active", "is_superuser", "groups", "sites")
    track(Person, "person", *person, readers={"Email": address_sign}, permission="fleet.manage_people")
    token = ("name", "group", "expires_on", "confirmed_at", "revoked_at", "revoked_by")
    track(ApiToken, "token", *token, record="owner")
    leave_out(
        "the journal itself, where each link holds the digest of the one before", JournalEntry, JournalHead, JournalLink
    )
    leave_out(
        "computed from the circuits, and again every night",
        AlterationEffect,
        CircuitCover,
        CircuitReading,
        CoverHazard,
        MachineCover,
    )
    leave_out("computed by each action, and compared every night", CurrentState, CurrentStateRules)
    leave_out("background jobs and sent emails: deleted after some days", Job, Digest)
    leave_out("challenges for passkeys, used up within minutes", PasskeyChallenge)
    leave_out("heartbeats, written every few seconds", Heartbeat)
    leave_out(
        "a file between upload and confirmation, how its columns and values are read, and its rows that are not in yet",
        RegisterUpload,
        ColumnMapping,
        ValueMeaning,
        WaitingRow,
    )
    leave_out("who has put the guided start away from their Home", StartPutAway)
