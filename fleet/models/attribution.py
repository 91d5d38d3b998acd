"""The author of an action as text: a person, or a program with the token of a person."""


def author_in_words(person, token):
    """Return such as “Ana Silva” or “program Stores system with the token of Ana Silva”; empty without a person.

    token  a token or its name; None or empty for an action of the person without one
    """
    return f"program {token} with the token of {person}" if token else str(person or "")
