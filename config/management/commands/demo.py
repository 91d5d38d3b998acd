"""Set up the demonstration and do the main job on it: import, inspect, sign, withdraw, retest, report."""

from itertools import islice

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from config.demo import main_job
from config.demo.attempts import tell_attempts
from config.demo.earlier_procedures import load_earlier_procedures
from config.demo.history import History
from config.demo.label_use import tell_labels
from config.demo.machine_circuits import fit_components, morning
from config.demo.machine_lives import tell_lives
from config.demo.planning_rules import tell_rules
from config.demo.safety_notice import tell_safety_notice
from config.demo.scenario import REGISTER, create_scenario, read_scenario
from config.demo.year import plan_the_year
from fleet.acting.scope import history
from fleet.management.database_check import require_sound_database
from fleet.models import Machine
from inspections.chain.verification import Verification, verify_store
from inspections.models import Inspection, Reading

MOST_SHOWN = 20


class Command(BaseCommand):
    help = "Fill an empty database with an invented hospital group, do the main job on it and write its reports."

    def handle(self, **options):
        require_sound_database()
        if Machine.objects.exists():
            raise CommandError("The register is not empty. The demonstration only fills an empty one: run make demo.")
        with history():
            self._fill()
        self._verify()

    def _fill(self):
        scenario, today = read_scenario(), timezone.localdate()
        people = create_scenario(scenario, today)
        call_command("import_register", str(REGISTER), "--by", "planner", stdout=self.stdout, stderr=self.stderr)
        for machine in Machine.objects.with_place().order_by("asset_number"):
            fit_components(machine)
        history = History(people, today)
        versions = load_earlier_procedures(at=morning(history.first_day))
        self.stdout.write(f"Procedures   {', '.join(str(version) for version in versions)}")
        history.run()
        signed, readings = Inspection.objects.signed().count(), Reading.objects.count()
        self.stdout.write(
            f"History      two years: {signed} inspections signed from {readings} readings, entered through "
            "the program's own actions"
        )
        main_job.tell_due_work(self.stdout.write, today)
        failed, retest = main_job.tell_failing_machine(self.stdout.write, history, today)
        main_job.tell_incomplete_inspection(self.stdout.write, history, today)
        main_job.tell_repair_at_the_bench(self.stdout.write, history, today)
        main_job.book_coming_work(self.stdout.write, history, today)
        tell_rules(self.stdout.write, by=people["planner"], today=today, at=timezone.now())
        plan_the_year(self.stdout.write, people, today)
        main_job.tell_circuits(self.stdout.write)
        main_job.tell_trends(self.stdout.write)
        tell_labels(self.stdout.write, by=people["planner"], at=timezone.now())
        tell_safety_notice(self.stdout.write, by=people["planner"], today=today, at=timezone.now())
        tell_attempts(self.stdout.write, people, at=timezone.now())
        tell_lives(self.stdout.write, people, today=today, at=timezone.now())
        main_job.tell_fleet(self.stdout.write)
        self._write_reports(failed, retest)
        self._tell_logins(scenario)

    def _verify(self):
        """Fail loudly where anything that was just made does not verify: actions alone may have written it."""
        seen = Verification()
        troubles = list(islice(verify_store(seen=seen), MOST_SHOWN))
        if troubles:
            raise CommandError("The demonstration does not verify:\n" + "\n".join(map(str, troubles)), returncode=1)
        self.stdout.write(f"Verified     {seen.records} records, {seen.rows} rows, {seen.links} journal entries")

    def _write_reports(self, failed, retest):
        folder = settings.DATA_DIR / "reports"
        folder.mkdir(parents=True, exist_ok=True)
        reports = [
            ("record", f"record-{failed.pk}-{failed.machine}.pdf", failed.pk),
            ("record", f"record-{retest.pk}-{retest.machine}.pdf", retest.pk),
            ("label", f"label-{failed.machine}.pdf", failed.machine_id),
            ("cover", "cover-report.pdf", None),
            ("review", "retirement-review.pdf", None),
        ]
        for kind, name, pk in reports:
            path = folder / name
            self.stdout.write("PDF          ", ending="")
            call_command(
                "write_report", kind, "--out", str(path), *(["--pk", str(pk)] if pk else []), stdout=self.stdout
            )

    def _tell_logins(self, scenario):
        self.stdout.write(f"\nLogins on {settings.BASE_URL}, all with the password {scenario['password']}:")
        for person in scenario["person"]:
            name = f"{person['first_name']} {person['last_name']}"
            self.stdout.write(f"  {person['username']:<12} {name}, {person['group']}")
        self.stdout.write(
            "\nInvented data. For qualified personnel: the manufacturer's instructions and local rules come first."
        )
