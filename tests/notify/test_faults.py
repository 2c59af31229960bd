"""One verdict from two tellers."""

from driftlead.notify.faults import NotifierFaults


def joined() -> tuple[NotifierFaults, list[tuple[str, str | None]]]:
    """Make one and the list of what it says."""
    said: list[tuple[str, str | None]] = []
    return NotifierFaults(lambda name, text: said.append((name, text))), said


def test_neither_teller_hides_what_the_other_says() -> None:
    """A success in sending does not end a failure in the background, and the other way round."""
    faults, said = joined()
    report = faults.background("siren")
    report("no player")
    faults.sending("siren", None)
    assert said == [("siren", "no player")]
    faults.sending("siren", "no answer")
    report(None)
    faults.sending("siren", None)
    assert said == [("siren", "no player"), ("siren", "no answer"), ("siren", None)]


def test_only_changes_are_passed_on_and_each_notifier_has_its_own() -> None:
    """The same text twice is told once."""
    faults, said = joined()
    faults.sending("siren", "no answer")
    faults.sending("siren", "no answer")
    faults.background("horn")(None)
    faults.background("horn")("stuck")
    assert said == [("siren", "no answer"), ("horn", "stuck")]
