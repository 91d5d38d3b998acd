"""The register of the measured fleet: places, people, models, instruments, machines, components and features."""

from datetime import timedelta

from django.contrib.auth.models import Group

from fleet.actions import register_machines
from fleet.actions.register import Entry
from fleet.models import (
    Area,
    Calibration,
    Component,
    Connection,
    Evidence,
    FeatureState,
    Instrument,
    InstrumentScale,
    MachineModel,
    ModelFeature,
    Person,
    Site,
    State,
)
from tests.benchmarks.copying import BATCH, Numbers, column_values, copy_rows, make_table

MACHINES = 5_000
MODELS = 20
SITES = 12
AREAS_PER_SITE = 8
TECHNICIANS = 30
INSTRUMENTS = 240


class FleetRows:
    """Part of the Builder."""

    def make_places_and_people(self):
        sites = Site.objects.bulk_create(
            Site(code=f"site-{n:02}", name=f"Measured Hospital {n:02}", altitude_m=40 * n, time_zone="Europe/London")
            for n in range(SITES - Site.objects.count())
        )
        Area.objects.bulk_create(
            Area(site=site, name=f"Theatres {n + 1}", minimum_machines=10)
            for site in sites
            for n in range(AREAS_PER_SITE)
        )
        self.areas = list(Area.objects.select_related("site").order_by("pk"))
        group = Group.objects.get(name="technician")
        added = Person.objects.bulk_create(
            Person(username=f"technician-{n:02}", first_name="Measured", last_name=f"Person {n:02}", password="!")
            for n in range(TECHNICIANS)
        )
        group.user_set.add(*added)
        self.technicians = added

    def make_models(self):
        """More types like those of the scenario, each with two features otherwise."""
        types = list(MachineModel.objects.prefetch_related("features").order_by("code"))
        for number in range(MODELS - len(types)):
            like = types[number % len(types)]
            rows = {row.feature: row.state for row in like.features.all()}
            for code in self.rng.sample(sorted(rows), 2):
                rows[code] = State.NOT_KNOWN if rows[code] == State.FITTED else State.FITTED
            like.pk = None
            like._state.adding = True
            like.code, like.name = f"{like.code}-m{number}", f"{like.name} mark {number}"
            like.save()
            ModelFeature.objects.bulk_create(
                ModelFeature(model=like, feature=code, state=state) for code, state in rows.items()
            )
            types[number % len(types)] = MachineModel.objects.prefetch_related("features").get(code=like.code)
        self.models = list(MachineModel.objects.prefetch_related("features").order_by("code"))

    def make_instruments(self):
        kinds = list(Instrument.objects.usable().in_calibration_on(self.today).prefetch_related("scales"))
        sites = list(Site.objects.all())
        made = Instrument.objects.bulk_create(
            Instrument(code=f"X-{n:03}", name=kinds[n % len(kinds)].name, site=sites[n % len(sites)])
            for n in range(INSTRUMENTS)
        )
        InstrumentScale.objects.bulk_create(
            InstrumentScale(**{**column_values(scale), "instrument_id": instrument.pk})
            for n, instrument in enumerate(made)
            for scale in kinds[n % len(kinds)].scales.all()
        )
        Calibration.objects.bulk_create(
            Calibration(
                instrument=instrument,
                calibrated_on=self.today - timedelta(days=365 * years + self.rng.randrange(-60, 340)),
                due_on=self.today - timedelta(days=365 * (years - 1) - 340),
                certificate=f"{instrument.code}-{years}",
            )
            for instrument in made
            for years in (1, 2, 3)
        )

    def make_machines(self):
        """Machines of every model in every area; each copies the parts of its model's pattern."""
        entries = []
        copied = [machine.machine.pk for patterns in self.patterns.values() for machine in patterns]
        for number in range(MACHINES - len(copied)):
            model = self.models[number % len(self.models)]
            fields = {
                "asset_number": f"A-{number:05}",
                "serial": f"S{self.rng.randrange(10**8):08}",
                "model": model,
                "area": self.areas[self.rng.randrange(len(self.areas))],
                "built_year": (model.first_built or 1990) + self.rng.randrange(9),
                "in_use_from": self.today - timedelta(days=3 * 365 + self.rng.randrange(4000)),
            }
            entries.append(Entry(fields))
        by, at = self.people["planner"], self.now - timedelta(days=3 * 365)
        self.machines = register_machines(entries, by=by, at=at)

    def make_parts(self):
        components, connections = Numbers(Component), Numbers(Connection)
        rows = []
        for machine in self.machines:
            pattern = self.patterns[machine.model.code][0]
            first_part, first_link = pattern.components[0].pk, pattern.connections[0].pk
            part = components.take(len(pattern.components)) - first_part
            connection = connections.take(len(pattern.connections)) - first_link
            rows.append((pattern.machine.pk, machine.pk, part, connection, str(machine.in_use_from)))
        make_table("machine_copies", ("pattern", "machine", "part", "link", "day"), rows)
        common = {"machine_id": "c.machine", "fitted_on": "c.day", "fitted_in_id": "NULL"}
        join = "old.machine_id = c.pattern AND old.removed_on IS NULL"
        copy_rows(Component, "machine_copies c", join=join, id="old.id + c.part", **common)
        copy_rows(
            Connection,
            "machine_copies c",
            join=join,
            id="old.id + c.link",
            source_id="old.source_id + c.part",
            target_id="old.target_id + c.part",
            **common,
        )
        self.part_shift = {machine: part for _, machine, part, _, _ in rows}

    def make_retrofits(self):
        """One machine in eight was altered in the past two years: one period ended and another began."""
        altered = [machine.pk for machine in self.machines[::8]]
        ended, begun = [], []
        for state in FeatureState.objects.filter(machine__in=altered).exclude(state=State.FITTED).order_by("pk"):
            if self.rng.random() < 0.2:
                state.until_date = self.today - timedelta(days=self.rng.randrange(1, 700))
                ended.append(state)
                begun.append(
                    FeatureState(
                        machine_id=state.machine_id,
                        feature=state.feature,
                        state=State.FITTED,
                        from_date=state.until_date,
                        evidence=Evidence.RETROFIT,
                        note="Fitted in the workshop",
                        by=self.people["technician"],
                        recorded_at=self.now,
                    )
                )
        FeatureState.objects.bulk_update(ended, ["until_date"], batch_size=300)
        FeatureState.objects.bulk_create(begun, batch_size=BATCH)
