from datetime import timedelta

from fleet.models import Calibration, Instrument
from tests.factories import TODAY, make_instrument, make_site


def calibrate(instrument, *, days_ago, result="within", days=365):
    done_on = TODAY - timedelta(days=days_ago)
    Calibration.objects.create(
        instrument=instrument,
        calibrated_on=done_on,
        due_on=done_on + timedelta(days=days),
        result=result,
        certificate=f"T-{days_ago}",
    )


def test_an_instrument_is_in_calibration_by_its_latest_calibration_alone(db):
    site = make_site()
    never, good, adjusted, ran_out, outside = (make_instrument(site=site, due_on=None) for _ in range(5))
    calibrate(good, days_ago=700, result="outside")
    calibrate(good, days_ago=10)
    calibrate(adjusted, days_ago=10, result="adjusted")
    calibrate(ran_out, days_ago=400)
    calibrate(outside, days_ago=200)
    calibrate(outside, days_ago=10, result="outside")
    assert set(Instrument.objects.in_calibration_on(TODAY)) == {good, adjusted}


def test_an_instrument_is_in_calibration_up_to_and_on_the_last_day(db):
    instrument = make_instrument(due_on=TODAY)
    assert instrument in Instrument.objects.in_calibration_on(TODAY)
    assert instrument not in Instrument.objects.in_calibration_on(TODAY + timedelta(days=1))
