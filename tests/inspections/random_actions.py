"""Random actions on a few machines, with all that their current state rests on. Refused ones change nothing."""

import random
from datetime import timedelta

from fleet.actions import (
    change_model,
    correct_machine,
    move_machine,
    record_feature_state,
    register_machine,
    retire_machine,
    return_machine_to_service,
    send_away,
    take_back,
    withdraw_machine,
)
from fleet.errors import Refused
from fleet.models import AwayPeriod, Machine, MachineModel
from inspections.actions import (
    book_inspection,
    close_finding,
    judge_criterion,
    open_inspection,
    plan_inspection,
    record_attempt,
    report_fault,
    set_not_tested,
    sign_inspection,
    void_inspection,
)
from inspections.models import Finding, Inspection, Procedure
from tests.factories import NOON, TODAY, load_all_procedures, make_area, make_machine, make_model, make_person

CODES = ("ratio-protection", "electronic-mixing", "vaporizer-exclusion", "o2-analyser", "scavenging-breathing-size")
MACHINES = 6


class RandomActions:
    """`step` does one action; `refused` counts those that were refused."""

    def __init__(self, seed):
        self.rng, self.at, self.refused, self.done = random.Random(seed), NOON, 0, 0
        load_all_procedures()
        self.by, self.technician = make_person("planner"), make_person("technician")
        self.areas = [make_area(), make_area()]
        self.models = [make_model(features={"o2-analyser": "fitted"}), make_model(gases=["oxygen"])]
        for number in range(MACHINES):
            make_machine(model=self.models[number % 2], area=self.areas[number % 2])
        self.procedures = list(Procedure.objects.all())
        self.verbs = [
            self.feature, self.correct, self.status, self.away, self.plan, self.book, self.begin, self.void,
            self.report, self.close, self.model, self.attempt, self.move, self.judge, self.sign,
        ]  # fmt: skip

    def step(self):
        self.at += timedelta(minutes=self.rng.randrange(1, 600))
        machine = self.rng.choice(list(Machine.objects.order_by("pk")))
        try:
            self.rng.choice(self.verbs)(machine)
            self.done += 1
        except Refused:
            self.refused += 1

    @property
    def who(self):
        return {"by": self.by, "at": self.at}

    def feature(self, machine):
        day = self.at.date() - timedelta(days=self.rng.choice((0, 0, 30, 400)))
        state = self.rng.choice(("fitted", "not fitted", "not known"))
        record_feature_state(machine, self.rng.choice(CODES), state, from_date=day, evidence="seen", **self.who)

    def correct(self, machine):
        correct_machine(
            machine, area=self.rng.choice(self.areas), model=self.rng.choice(self.models),
            asset_number=f"R-{self.rng.randrange(10_000)}-{machine.pk}", **self.who,
        )  # fmt: skip

    def status(self, machine):
        act = self.rng.choice((withdraw_machine, return_machine_to_service, return_machine_to_service, retire_machine))
        said = {"reason": "So decided", **({"evidence": "Seen"} if act is return_machine_to_service else {})}
        if act is retire_machine and self.rng.random() < 0.8:
            return
        act(machine, **said, **self.who)
        if act is retire_machine:
            register_machine(
                asset_number=f"N-{machine.pk}-{self.done}", serial="", model=machine.model, area=machine.area,
                in_use_from=TODAY - timedelta(days=900), **self.who,
            )  # fmt: skip

    def away(self, machine):
        there = AwayPeriod.objects.now().filter(machine=machine).first()
        day = self.at.date()
        if there is None:
            send_away(
                machine, kind="lent", to_whom="County hospital", from_date=day, expected_on=day + timedelta(days=9),
                reason="Theirs is broken", **self.who,
            )  # fmt: skip
        else:
            take_back(there, returned_on=day, **self.who)

    def plan(self, machine):
        due_on = self.at.date() + timedelta(days=self.rng.randrange(400))
        plan_inspection(machine, self.rng.choice(self.procedures), due_on=due_on, **self.who)

    def book(self, machine):
        if (one := self._open(machine)) is not None:
            book_inspection(one, technician=self.technician, booked_on=self.at.date(), **self.who)

    def begin(self, machine):
        if (one := self._open(machine)) is not None:
            open_inspection(one, by=self.technician, at=self.at)

    def sign(self, machine):
        """Sign what is in progress with no more than the steps that are not essential left out, or with all of them."""
        one = Inspection.objects.in_progress().filter(machine=machine).order_by("pk").first()
        if one is not None:
            for step in one.steps.filter(applies=True, not_tested_reason=""):
                set_not_tested(step, reason="No time", by=self.technician, at=self.at)
            sign_inspection(one, by=self.technician, at=self.at)

    def void(self, machine):
        if (one := self._open(machine)) is not None:
            void_inspection(one, reason="Planned twice", although_in_progress=True, **self.who)

    def attempt(self, machine):
        if (one := self._open(machine)) is not None:
            record_attempt(one, kind=self.rng.choice(("in use", "not located")), **self.who)

    def move(self, machine):
        day = self.at.date() - timedelta(days=self.rng.randrange(30))
        move_machine(machine, area=self.rng.choice(self.areas), on=day, evidence="Order 7", **self.who)

    def judge(self, machine):
        answer = self.rng.choice(("met", "not met"))
        judge_criterion(machine, self.rng.choice(("R8", "R10")), answer=answer, reason="Seen", **self.who)

    def report(self, machine):
        report_fault(machine, title="Sticks", severity=self.rng.choice(("essential", "other")), **self.who)

    def close(self, machine):
        finding = Finding.objects.open().filter(machine=machine).first()
        if finding is not None:
            close_finding(finding, note="Repaired", **self.who)

    def model(self, machine):
        model = MachineModel.objects.get(pk=self.rng.choice(self.models).pk)
        gases = self.rng.choice((["oxygen"], ["oxygen", "nitrous-oxide", "air"]))
        change_model(
            model,
            features={"o2-analyser": "fitted"},
            gases=gases,
            vaporizer_positions=self.rng.randrange(3),
            **self.who,
        )

    def _open(self, machine):
        return Inspection.objects.open().filter(machine=machine).order_by("?").first()
