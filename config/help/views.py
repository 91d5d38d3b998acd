"""The pages of Help."""

from django.http import Http404
from django.shortcuts import render
from django.views.decorators.http import require_safe

from config.help.topics import BY_SLUG, TOPICS


@require_safe
def help_index(request):
    return render(request, "help/index.html", {"topics": TOPICS})


@require_safe
def help_topic(request, slug):
    if slug not in BY_SLUG:
        raise Http404(f"Help has no topic “{slug}”.")
    topic = BY_SLUG[slug]
    others = [other for other in TOPICS if other is not topic]
    return render(request, topic.template, {"topic": topic, "others": others})
