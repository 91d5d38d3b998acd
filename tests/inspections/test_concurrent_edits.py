"""Whatever two technicians enter, clear and choose in whatever order, from pages new and old: nothing is lost."""

from datetime import timedelta

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, precondition, rule, run_state_machine_as_test

from inspections.actions import clear_reading, settle_contest
from inspections.models import Reading
from tests.factories import NOON
from tests.inspections.scenes import enter

WHO = st.sampled_from([0, 1])
PLACES = st.sampled_from([("full_pressure", 0, ""), ("falling", 0, "pressure")])
TEXTS = st.sampled_from(["50", "51", "52"])


class TwoTechnicians(RuleBasedStateMachine):
    """`scene` is set by the test."""

    scene = None

    def __init__(self):
        super().__init__()
        self.people, self.step = [self.scene.technician, self.scene.other], self.scene.step()
        Reading.objects.update(contests=None)
        Reading.objects.all().delete()
        self.seen = {}  # (who, place): the key of the reading on that page
        self.acknowledged = {}  # key of a reading: who entered what
        self.seconds = 0

    def now(self):
        self.seconds += 1
        return NOON + timedelta(seconds=self.seconds)

    @rule(who=WHO)
    def look(self, who):
        for place in [place for page, place in self.seen if page == who]:
            del self.seen[who, place]
        self.seen |= {(who, r.slot): r.pk for r in Reading.objects.current().filter(step=self.step)}

    @rule(who=WHO, place=PLACES, text=TEXTS)
    def enter(self, who, place, text):
        before = self.standing(place)
        seen = self.seen.get((who, place))
        field, row, column = place
        kept = enter(
            self.step,
            field,
            row=row,
            column=column,
            as_read=text,
            unit="psi",
            by=self.people[who],
            at=self.now(),
            seen=seen,
        )
        self.acknowledged.setdefault(kept.pk, (who, text) if kept.entered_by == self.people[who] else None)
        after = self.standing(place)
        self.seen[who, place] = after.pk
        if before and before.pk != seen:
            assert after == before, "what was entered unseen stays current"
            assert kept == before or kept.is_contested
        else:
            assert after == kept
        assert kept.as_read == text

    @rule(who=WHO, place=PLACES)
    def clear(self, who, place):
        before = self.standing(place)
        seen = self.seen.get((who, place))
        field, row, column = place
        stands = clear_reading(self.step, field, row=row, column=column, by=self.people[who], at=self.now(), seen=seen)
        unseen = before and before.pk != seen
        assert self.standing(place) == (before if unseen else None) == stands
        self.seen[who, place] = stands.pk if stands else None

    @precondition(lambda self: Reading.objects.contested().exists())
    @rule(who=WHO, stands=st.booleans())
    def choose(self, who, stands):
        contested = Reading.objects.contested().first()
        before = self.standing(contested.slot)
        settle_contest(contested, stands=stands, by=self.people[who], at=self.now())
        assert self.standing(contested.slot) == (contested if stands else before)

    def standing(self, place):
        field, row, column = place
        return Reading.objects.current().filter(step=self.step, field=field, row=row, column=column).first()

    def teardown(self):
        found = {
            r.pk: (self.people.index(r.entered_by), r.as_read) for r in Reading.objects.select_related("entered_by")
        }
        for pk, entry in self.acknowledged.items():
            assert pk in found and entry in (None, found[pk])


def test_no_acknowledged_reading_is_ever_lost_between_two_technicians(scene):
    run_state_machine_as_test(
        type("OnThisBench", (TwoTechnicians,), {"scene": scene}),
        settings=settings(
            max_examples=20, stateful_step_count=15, suppress_health_check=list(HealthCheck), deadline=None
        ),
    )
