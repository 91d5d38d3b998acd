"""The jobs that Help explains, and the pages from which each is opened."""

from dataclasses import dataclass

RUNNING_BOBBIN = "Running Bobbin"


@dataclass(frozen=True, slots=True)
class Topic:
    """`pages` names the addresses, as reversed, that lead to this topic; `group` is its heading in the index."""

    slug: str
    title: str
    lead: str
    pages: tuple[str, ...]
    group: str = "In the department"

    @property
    def template(self) -> str:
        return f"help/{self.slug}.html"


TOPICS = (
    Topic(
        "first-day",
        "The first day of a department",
        "From an empty register to the first inspection: people, sites, models, limits, the first register.",
        ("first_day", "fleet:places_paste", "fleet:people_paste", "fleet:model_start"),
    ),
    Topic(
        "where-machines-are",
        "Where machines are",
        "A move, a loan, a repair elsewhere, and reports of a past day.",
        ("fleet:machine_move", "fleet:machine_away", "fleet:machine_back", "fleet:machine_expected",
         "fleet:away_machines"),
    ),
    Topic(
        "book-the-month",
        "Book the month",
        "Assign a technician and a day to each inspection that falls due.",
        ("inspections:work", "inspections:book", "inspections:book_many", "inspections:plan", "inspections:void",
         "inspections:trends", "inspections:week", "inspections:week_move"),
    ),
    Topic(
        "on-time-and-rates",
        "On time, and how often things fail",
        "What to record when an inspection did not happen, and what the figures of the programme count.",
        ("inspections:on_time", "inspections:due_dates", "inspections:attempt", "inspections:attempted",
         "inspections:programme", "inspections:pictures", "inspections:finding_code"),
    ),
    Topic(
        "decide-how-often",
        "Decide how often",
        "Which procedure is planned on which machines, what a yearly settles, and when components with a life are due.",
        ("inspections:planning_rules", "inspections:planning_rule_add", "inspections:planning_rule_end",
         "inspections:machine_planning", "inspections:component_lives", "inspections:component_life_add",
         "inspections:component_life_end", "inspections:parts_due", "inspections:meter_readings",
         "inspections:interval_dossiers", "inspections:interval_dossier", "inspections:interval_dossier_add",
         "inspections:interval_dossier_discard", "inspections:hidden_failure_rates", "inspections:risk_scores",
         "inspections:evidence_policy"),
    ),
    Topic(
        "plan-the-year",
        "Plan the year",
        "Hours, leave and competence; a plan for every inspection; somebody who is away; first due dates.",
        ("inspections:year_plan", "inspections:away", "inspections:levelling", "inspections:calendars",
         "inspections:technician_calendar", "inspections:closed_days", "inspections:calendar_feeds"),
    ),
    Topic(
        "do-an-inspection",
        "Do an inspection",
        "From starting an inspection to a signed record, and what to do after a failed test.",
        (
            "inspections:inspection", "inspections:open", "inspections:bench", "inspections:bench_step",
            "inspections:sign", "inspections:countersign", "inspections:amend", "inspections:finding",
            "inspections:findings", "inspections:finding_close", "inspections:retest_plan", "inspections:release",
            "inspections:fault_report", "inspections:fault_reports", "inspections:fault_report_page",
            "inspections:user_checks", "inspections:label_replace", "fleet:machine_withdraw", "fleet:instruments",
            "fleet:instrument", "fleet:instrument_add", "fleet:calibration_add", "inspections:reading_file",
        ),
    ),
    Topic(
        "import-a-register",
        "Import a register",
        "From a list of your own, CSV or XLSX, to machines, instruments, points of certificates, components and "
        "earlier inspections.",
        ("fleet:machines", "fleet:import_register", "fleet:import_preview", "fleet:import_reading",
         "fleet:import_values", "fleet:value_meanings", "fleet:value_meaning_forget", "fleet:waiting_files",
         "fleet:waiting_rows"),
    ),
    Topic(
        "answer-a-recall",
        "Answer a recall or a safety notice",
        "Find all that a notice concerns, deal with each, show that none was missed; and what to do after an incident.",
        (
            "fleet:machine", "fleet:models", "fleet:model", "fleet:component_list", "search", "inspections:notices",
            "inspections:notice", "inspections:notice_add", "inspections:notice_criterion_add",
            "inspections:notice_criterion_withdraw", "inspections:notice_criterion_correct",
            "inspections:notice_work", "inspections:notice_item", "inspections:notice_item_work",
            "inspections:notice_settle", "inspections:notice_close", "inspections:incidents", "inspections:incident",
            "inspections:incident_close",
        ),
    ),
    Topic(
        "read-a-cover-table",
        "Read a cover table",
        "Which hazards a gas circuit leaves open, what stops or alarms the others, and what that means for a machine.",
        ("fleet:cover", "fleet:machine_cover", "fleet:machine_circuit", "fleet:model_circuit", "fleet:component_fit"),
    ),
    Topic(
        "alter-many-machines",
        "Alter many machines",
        "Plan one alteration on many machines, see what it closes and opens, and carry it out with its retest.",
        ("fleet:alterations", "fleet:alteration_add", "fleet:alteration", "fleet:alteration_machines",
         "fleet:alteration_of_machine", "fleet:alteration_leave_out"),
    ),
    Topic(
        "what-a-sum-can-close",
        "What a sum can close",
        "From prices and weights to a plan for three years: which machines to keep, to alter and to replace.",
        (
            "inspections:review", "inspections:review_machine", "inspections:review_weights",
            "inspections:weights_change", "inspections:fleet_choices", "inspections:fleet_choice",
            "inspections:fleet_choice_add", "inspections:exposure",
            "inspections:machine_money", "fleet:money_list", "fleet:money_add",
            "fleet:money_withdraw",
        ),
    ),
    Topic(
        "define-a-procedure",
        "Define a procedure",
        "Which tests are done at which interval, on which machines, and by which rule each result is judged.",
        (
            "inspections:procedures", "inspections:procedure", "inspections:procedure_compare",
            "inspections:procedure_draft_add", "inspections:procedure_draft", "inspections:procedure_draft_head",
            "inspections:procedure_draft_not_tested", "inspections:procedure_draft_preview",
            "inspections:procedure_draft_compare", "inspections:procedure_draft_approve",
            "inspections:procedure_step_add", "inspections:procedure_step", "inspections:tests", "inspections:test",
            "inspections:limits", "inspections:limit_add", "inspections:limit_end", "inspections:other_limit",
            "library",
        ),
    ),
    Topic(
        "how-values-are-judged",
        "How values are judged",
        "From a reading and its uncertainty to a decision, where the limits come from, and how Bobbin was checked.",
        ("inspections:reevaluation",),
    ),
    Topic(
        "where-limits-come-from",
        "Where the limits come from",
        "The source of every published limit, test by test, and which figures rest on memory or common practice alone.",
        ("inspections:limit_confirm", "inspections:limits_leave"),
    ),
    Topic(
        "prove-the-records",
        "Prove the records",
        "Show that every record is still what was signed, and know what no proof can show.",
        ("inspections:verify", "inspections:check_pdf"),
    ),
    Topic(
        "keep-the-evidence",
        "Keep the evidence",
        "Attach files, hand out the device book of a machine, and close its life: decommissioning and retention.",
        ("inspections:files", "inspections:machine_files", "inspections:attachment", "inspections:attachment_withdraw",
         "inspections:attachment_remove", "inspections:retention", "inspections:device_book",
         "inspections:device_books", "inspections:decommissioning", "inspections:decommissioning_item",
         "inspections:decommissionings", "fleet:machine_retire", "fleet:software_and_users",
         "fleet:book_record_withdraw"),
    ),
    Topic(
        "formats-of-a-site",
        "Numbers, dates and units of a site",
        "How each site writes numbers, dates, times and quantities, on pages and on paper.",
        ("fleet:sites", "fleet:site_add", "fleet:site_edit", "fleet:area_add", "fleet:area_edit"),
    ),
    Topic(
        "people-and-accounts",
        "People and accounts",
        "Accounts, groups and sites, passwords, decisions by two persons, and a person's data.",
        (
            "fleet:people", "fleet:person", "fleet:person_add", "fleet:person_edit", "fleet:own_data",
            "fleet:person_remove", "inspections:proposal", "password_change", "second_factor",
        ),
        RUNNING_BOBBIN,
    ),
    Topic(
        "background-jobs",
        "Background jobs",
        "Large reports and imports, the jobs of every night, and email digests.",
        ("fleet:jobs", "fleet:job", "fleet:digest"),
        RUNNING_BOBBIN,
    ),
    Topic(
        "other-programs",
        "Other programs: the API",
        "Let another program read the register and due work, and enter readings, with a token of its own.",
        ("api_page", "fleet:api_tokens", "fleet:api_token_add", "fleet:own_tokens", "fleet:own_token_confirm"),
        RUNNING_BOBBIN,
    ),
    Topic(
        "run-it-for-a-hospital",
        "Run it for a hospital",
        "The served installation: containers, the proxy in front, and what to watch.",
        (),
        RUNNING_BOBBIN,
    ),
    Topic(
        "back-up-and-restore",
        "Back up and restore",
        "Make a backup while Bobbin is in use, practise the restore, and restore.",
        (),
        RUNNING_BOBBIN,
    ),
    Topic(
        "upgrade-and-roll-back",
        "Upgrade and roll back",
        "Go to a newer version of the served installation, and back.",
        (),
        RUNNING_BOBBIN,
    ),
)  # fmt: skip
BY_SLUG = {topic.slug: topic for topic in TOPICS}
BY_PAGE = {page: topic for topic in TOPICS for page in topic.pages}


def topic_of(page: str) -> Topic | None:
    """Return the topic that a page leads to; `page` is the name of its address, such as "inspections:work"."""
    return BY_PAGE.get(page)
