"""Which procedures another one contains: declared in its content, and checked step by step."""

from inspections.errors import ProcedureError

SAME = ("test", "component", "gas", "feature", "item", "each", "rated")  # what makes two steps the same work


def lacking_steps(content, contained):
    """Return the titles of the steps of a contained procedure that the content of another one lacks.

    A step is there under the same code with the same test, or as the same test of the same thing under another code.
    """
    codes = {(step["code"], step["test"]) for step in content["step"]}
    works = {_work_of(step) for step in content["step"]}
    return [
        step["title"]
        for step in contained["step"]
        if (step["code"], step["test"]) not in codes and _work_of(step) not in works
    ]


def refuse_not_contained(content, contents):
    """Raise ProcedureError where a procedure says that it contains one that it does not.

    contents  the content in force of each procedure, by code
    """
    for code in content.get("contains", ()):
        where = f"{content['code']}: contains = “{code}”"
        if code == content["code"]:
            raise ProcedureError(f"{where} is the procedure itself. Name another procedure.")
        if code not in contents:
            accepted = ", ".join(sorted(set(contents) - {content["code"]})) or "none"
            raise ProcedureError(f"{where} is not a procedure. Accepted: {accepted}.")
        if lacking := lacking_steps(content, contents[code]):
            raise ProcedureError(
                f"{where} has steps that are not in it: {', '.join(lacking)}. Add them, or leave it out."
            )


def _work_of(step):
    chosen = (tuple(sorted(step.get(key, {}).items())) for key in ("choices", "from_record"))
    return (*(step.get(key) for key in SAME), *chosen)
