"""Figures and texts of the cover report, and its cells, most of which are alike."""

from django import template

from fleet.documents.phrases import lower_first, percent

register = template.Library()
register.filter("percent", percent)
register.filter("lower_first", lower_first)


class EachAlike(template.Node):
    """Renders its body for each of some things, once for those with the same `key`."""

    def __init__(self, name, things, body):
        self.name, self.things, self.body = name, things, body

    def render(self, context):
        known = context.render_context.setdefault(self, {})
        rendered = []
        for one in self.things.resolve(context):
            key = one.key
            if key not in known:
                with context.push(**{self.name: one}):
                    known[key] = self.body.render(context)
            rendered.append(known[key])
        return "".join(rendered)


@register.tag
def each_alike(parser, token):
    """{% each_alike cell in row.cells %}…{% end_alike %}: as `for`. The body may say of `cell` what its key decides."""
    try:
        _, name, _, things = token.split_contents()
    except ValueError:
        raise template.TemplateSyntaxError(f"{token.contents}: expected “each_alike cell in row.cells”.") from None
    body = parser.parse(("end_alike",))
    parser.delete_first_token()
    return EachAlike(name, parser.compile_filter(things), body)
