"""The steps of the main job in a browser, at whatever address the page belongs to, and on the database behind it."""

import re
from urllib.parse import parse_qs

from django.utils import timezone
from playwright.sync_api import expect

from config.demo.earlier_procedures import load_earlier_procedures
from fleet.catalogue import FEATURES
from fleet.catalogue.rule_sets import RuleSet
from fleet.models import Area, Machine, MachineStatus, Site
from inspections.actions import plan_inspection
from inspections.models import Finding, Inspection, Procedure, Reading, Stage
from tests.factories import PASSWORD, make_instrument, make_machine, make_model, make_person
from tests.services.browser import log_in_by_form

# What the falling sweep shows, oxygen pressure and flow of nitrous oxide in L/min. With a weak spring the flow is at
# half of 4 L/min between 14 and 15 psi; in order it is between 170 and 176 kPa (24.7 and 25.5 psi).
WEAK_PSI = [(40, 4), (25, 4), (20, 4), (16, 4), (15, 2.8), (14, 1.1), (12, 0), (8, 0)]
SOUND_KPA = [(280, 4), (200, 4), (176, 3), (170, 1), (160, 0), (60, 0)]
# And the rising one: the gas comes back in between, and all of it at the full pressure.
BACK_PSI = [(10, 0), (14, 1), (16, 3.5), (50, 4)]
BACK_KPA = [(150, 0), (172, 1), (180, 3.6), (345, 4)]
BARE = dict.fromkeys(FEATURES, "not fitted") | {"o2-failure-protection": "fitted"}


def do_main_job(page, screenshot):
    """Booked, failed in psi, signed, withdrawn, retested in kPa, released, reviewed, with screenshot(name) on the way.

    The models of this process must use the database that the pages are made from.
    """
    machine, technician, inspection = prepare()

    log_in_by_form(page, "nora", PASSWORD, to="/inspections/")
    planner_books(page, technician, inspection)
    sign_out(page)

    log_in_by_form(page, "tom", PASSWORD, to="/")
    page.locator(f"a[href='{inspection.get_absolute_url()}']").first.click()
    technician_opens(page, inspection)
    enter_sweep(page, WEAK_PSI, BACK_PSI, full=50, unit="psi")
    expect(page.locator(".bench-live")).to_contain_text("fail")
    screenshot("main-job-1-failing-trip")
    page.reload()
    expect(page.locator("#table-falling").get_by_label("Oxygen pressure, row 5")).to_have_value("15")
    enter_the_others(page)
    sign(page)
    expect(page.locator("main")).to_contain_text("Withdraw")
    screenshot("main-job-2-signed")

    withdraw(page, machine)

    retest(page, machine)
    release(page, machine, screenshot)
    assert Machine.objects.get(pk=machine.pk).status == MachineStatus.IN_SERVICE
    assert not Finding.objects.open().essential().filter(machine=machine).exists()
    sign_out(page)

    log_in_by_form(page, "mia", PASSWORD, to="/cover/")
    manager_reviews(page, machine, screenshot)
    units = set(Reading.objects.filter(field="falling", column="pressure").values_list("unit", flat=True))
    assert units == {"psi", "kPa"}


def prepare():
    """Make a machine with one safety feature, due for its half-yearly inspection, and four people.

    Where a worker runs, other inspections may be planned at any moment, so the steps name this inspection.
    """
    now = timezone.now()
    load_earlier_procedures(at=now)  # those of fewer steps: the job is the same, and shorter
    make_person("planner", username="nora")
    technician = make_person("technician", username="tom", first_name="Tom", last_name="Bench")
    make_person("technician", username="rita", first_name="Rita", last_name="Second")
    make_person("manager", username="mia")
    model = make_model(features=BARE, name="Plain Two", gases=["oxygen", "nitrous-oxide"])
    machine = make_machine(asset_number="B-100", model=model, built_year=1984, at=now)
    Site.objects.filter(pk=machine.area.site_id).update(rule_set=RuleSet.US)
    Area.objects.filter(pk=machine.area_id).update(name="Theatre with a name long enough to wrap on a tablet")
    make_instrument(
        site=machine.area.site,
        code="G-1",
        calibrated_on=now.date() - timezone.timedelta(days=30),
        due_on=now.date() + timezone.timedelta(days=300),
    )
    procedure = Procedure.objects.get(code="half-yearly")
    inspection = plan_inspection(machine, procedure, due_on=now.date(), by=None, at=now)
    return machine, technician, inspection


def planner_books(page, technician, inspection):
    page.locator(f"input[type=checkbox][value='{inspection.pk}']").check()
    form, day = page.locator("#booking"), timezone.localdate()
    form.get_by_label("Technician").select_option(label=str(technician))
    form.get_by_label("Day").fill(day.isoformat())
    with page.expect_navigation():
        page.get_by_role("button", name="Book selected").click()
    if day.weekday() >= 5:  # asked about: a technician without hours works no weekend
        page.get_by_label("Book anyway").check()
        with page.expect_navigation():
            page.get_by_role("button", name="Book 1").click()
    assert Inspection.objects.get(pk=inspection.pk).stage == Stage.BOOKED


def technician_opens(page, inspection):
    page.get_by_role("button", name="Start inspection").first.click()
    page.wait_for_url("**/bench/**")
    assert Inspection.objects.get(pk=inspection.pk).stage == Stage.IN_PROGRESS


def enter_the_others(page, *, checked=()):
    """Every step of the machine but the supply failure; `checked` are further ones that are answered with yes."""
    enter_pipeline_pressure(page, "51.0", "50.0", "psi")
    enter_leak(page, "Low-pressure leak", "18", vaporizer_count="0")
    enter_leak(page, "Breathing system leak", "60")
    go_to_step(page, "Oxygen flush")
    choose(page, method="timed")
    enter(page, "Volume filled", "5", "L")
    enter(page, "Time to fill", "6", "s")
    answer_yes(page, "Does the flow stop when the flush is released?")
    for title in ("Reserve oxygen cylinder", "One-way valves", *checked):
        go_to_step(page, title)
        answer_yes(page.get_by_role("region", name=re.compile(title)))


def choose(page, **choices):
    for key, chosen in choices.items():
        option = page.locator(f"input[name='{key}'][value='{chosen}']")
        if not option.is_visible():
            page.locator("details.recorded > summary").click()
        with page.expect_response(lambda answer: "/reading/" in answer.url):
            option.check()


def answer_yes(part, question=None):
    """Answer a question with yes; `part` is the page, or the region of a check, which has no other question."""
    field = part.get_by_role("radiogroup", name=re.compile(re.escape(question))) if question else part
    page = part if question else part.page
    with page.expect_response(lambda answer: "/reading/" in answer.url):
        field.get_by_role("radio", name="Yes").check()


def enter_pipeline_pressure(page, still, flowing, unit):
    go_to_step(page, "Pipeline pressure, oxygen")
    enter(page, "Pipeline pressure, no flow", still, unit)
    enter(page, "Pipeline pressure under flow", flowing, unit)
    enter(page, "Flow during that reading", "10", "L/min")


def enter_sweep(page, falling, rising, *, full, unit):
    go_to_step(page, "Oxygen supply failure")
    enter(page, "Oxygen pressure at the start", str(full), unit)
    enter(page, "Flow of the other gas at the start", "4", "L/min")
    for key, rows in (("falling", falling), ("rising", rising)):
        table = page.locator(f"#table-{key}")
        table.get_by_label("Unit of oxygen pressure").select_option(unit)
        for number, (pressure, flow) in enumerate(rows, start=1):
            for label, value in (("Oxygen pressure", pressure), ("Flow of the other gas", flow)):
                keep(page, table.get_by_label(f"{label}, row {number}", exact=True), str(value))


def enter_leak(page, title, value, **choices):
    go_to_step(page, title)
    choose(page, **choices)
    enter(page, "Make-up flow", value, "mL/min")
    enter(page, "Pressure held", "3", "kPa")


def enter(page, label, value, unit):
    page.get_by_label(f"Unit of {label.lower()}", exact=True).select_option(unit)
    keep(page, page.get_by_role("textbox", name=re.compile(f"^{label}( \\(optional\\))?$")), value)


def keep(page, field, value):
    """Type as a person does, leave the field, and wait until the server has acknowledged this reading.

    Choosing a unit also posts its field, so the next answer may belong to that.
    """
    field.fill(value)
    name = field.get_attribute("name")
    with page.expect_response(lambda answer: _posted(answer, name) == [value]) as answer:
        field.press("Tab")
    assert answer.value.ok


def _posted(answer, name):
    """Return what a request posted under a name, None unless it posted a reading."""
    if "/reading/" not in answer.url:
        return None
    return parse_qs(answer.request.post_data or "").get(name)


def go_to_step(page, title):
    """Open the page of a step, at the step where it holds several."""
    steps = page.get_by_role("navigation", name="Steps of this inspection")
    steps.get_by_role("link", name=re.compile(title)).click()
    expect(page.locator(".steps [aria-current]")).to_contain_text(title)
    expect(page.locator("h1, .check[data-here] h2").filter(has_text=title).first).to_be_visible()
    page.wait_for_load_state()  # until its scripts send what is entered


def sign(page):
    page.get_by_role("link", name="Review and sign").click()
    page.get_by_label("Your password").fill("not the password")
    page.get_by_role("button", name=re.compile("^Sign Inspection")).click()
    expect(page.locator(".errors").first).to_be_visible()
    page.get_by_label("Your password").fill(PASSWORD)
    page.get_by_role("button", name=re.compile("^Sign Inspection")).click()
    page.wait_for_url(re.compile(r"/inspections/\d+/(\?.*)?$"))


def withdraw(page, machine):
    page.get_by_role("link", name=re.compile("^Withdraw")).first.click()
    page.get_by_role("button", name=re.compile("^Withdraw")).click()
    expect(page.locator("main")).to_contain_text("Withdrawn")
    assert Machine.objects.get(pk=machine.pk).status == MachineStatus.WITHDRAWN
    assert Finding.objects.open().essential().filter(machine=machine).exists()


def retest(page, machine):
    page.goto(f"/machines/{machine.pk}/retest/")
    with page.expect_navigation():
        page.locator("main form button[type=submit]").last.click()
    inspection = Inspection.objects.order_by("-pk").filter(retests__isnull=False).first()
    page.goto(inspection.get_absolute_url())
    technician_opens(page, inspection)
    enter_sweep(page, SOUND_KPA, BACK_KPA, full=345, unit="kPa")
    expect(page.locator(".bench-live")).to_contain_text("pass")
    enter_the_others(page, checked=("Daily checkout",))
    sign(page)


def release(page, machine, screenshot):
    """Who signed the retest proposes the release, another technician confirms it."""
    page.goto(f"/machines/{machine.pk}/release/")
    screenshot("main-job-3-release")
    propose_release(page)
    sign_out(page)
    log_in_by_form(page, "rita", PASSWORD, to="/")
    confirm_release(page)
    screenshot("main-job-3b-released")


def propose_release(page):
    """Who signed the retest proposes. After a wrong password the reason stays in the form and nothing is stored."""
    page.get_by_label("Reason").fill("Spring of the cut-off valve renewed.")
    page.get_by_label("Your password").fill("not the password")
    page.get_by_role("button", name=re.compile("^Propose to return machine")).click()
    expect(page.locator(".errors").first).to_be_visible()
    expect(page.get_by_label("Reason")).to_have_value("Spring of the cut-off valve renewed.")
    expect(page.get_by_label("Your password")).to_have_value("")
    page.get_by_label("Your password").fill(PASSWORD)
    page.get_by_role("button", name=re.compile("^Propose to return machine")).click()
    page.wait_for_url("**/proposals/**")


def confirm_release(page):
    """Another technician finds it on the home page and confirms it."""
    page.get_by_role("link", name=re.compile("^Release machine")).first.click()
    page.get_by_label("Your password").fill(PASSWORD)
    page.get_by_role("button", name="Confirm").click()
    expect(page.locator("main")).to_contain_text("Confirmed")


def manager_reviews(page, machine, screenshot):
    page.get_by_role("link", name=re.compile("Minimum oxygen ratio protection: not fitted")).first.click()
    expect(page.locator("main")).to_contain_text("B-100")
    screenshot("main-job-4-cover")
    page.goto("/retirement/")
    page.get_by_role("link", name=re.compile("B-100")).first.click()
    expect(page.locator("main")).to_contain_text("Obsolete")
    screenshot("main-job-5-review")


def sign_out(page):
    page.goto("/")
    page.locator(".person summary").click()
    page.get_by_role("button", name=re.compile("Sign out")).click()
    page.wait_for_url("**/logout/")
