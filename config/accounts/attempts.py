"""A failed sign-in is stored with who and when, and without anything that was typed."""


def forget_what_was_sent(sender, instance, **kwargs):
    """Receiver of pre_save of AccessAttempt: drop the form, which the library would store with its secrets."""
    instance.get_data = instance.post_data = ""
