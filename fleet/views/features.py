"""Record the state of one safety feature of a machine."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import Http404
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from fleet.actions import record_feature_state
from fleet.catalogue import FEATURES, get_hazard
from fleet.errors import FeatureRefused
from fleet.forms.features import FeatureStateForm
from fleet.models import FeatureState
from fleet.views.machines import visible_machine
from fleet.web.at_site import day_words
from fleet.web.form_methods import FORM_METHODS, posted


@permission_required("fleet.add_featurestate", raise_exception=True)
@require_http_methods(FORM_METHODS)
def feature_record(request, pk, code):
    machine = visible_machine(request, pk)
    feature = FEATURES.get(code)
    if feature is None:
        raise Http404(f"No safety feature has the code {code}.")
    now = timezone.now()
    form = FeatureStateForm(posted(request), initial={"from_date": machine.site.date_of(now)})
    if request.method == "POST" and form.is_valid():
        try:
            record_feature_state(machine, code, by=request.user, at=now, **form.cleaned_data)
        except FeatureRefused as refused:
            form.add_error("from_date", str(refused))
        else:
            messages.success(
                request,
                f"{feature.name}: {form.cleaned_data['state']} from {day_words(form.cleaned_data['from_date'])}.",
            )
            return redirect(machine)
    context = {
        "machine": machine,
        "feature": feature,
        "hazards": [get_hazard(hazard) for hazard in feature.hazards],
        "history": FeatureState.objects.filter(machine=machine, feature=code).select_related("by")[:20],
        "form": form,
    }
    return render(request, "fleet/feature_record.html", context)
