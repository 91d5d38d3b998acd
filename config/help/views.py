"""The pages of Help."""

from django.http import Http404
from django.shortcuts import render
from django.views.decorators.http import require_safe

from config.help.limit_sources import limits_by_basis, sources_by_family
from config.help.topics import BY_SLUG, TOPICS

FROM_THE_PROGRAM = {
    "where-limits-come-from": lambda: {"families": sources_by_family(), "by_basis": limits_by_basis()},
}


@require_safe
def help_index(request):
    return render(request, "help/index.html", {"topics": TOPICS})


@require_safe
def help_topic(request, slug):
    if slug not in BY_SLUG:
        raise Http404(f"Help has no topic “{slug}”.")
    topic = BY_SLUG[slug]
    others = [other for other in TOPICS if other is not topic]
    written = FROM_THE_PROGRAM.get(slug, dict)()
    return render(request, topic.template, {"topic": topic, "others": others, **written})
