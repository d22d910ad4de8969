"""The cautions that every report carries: what a wear trial can do to people, and what its figures do not cover.

They defer to the machine's manual, to local law and codes and to licensed or responsible people; where a figure is
named, so is its source.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Caution:
    """One caution.

    Attributes
    ----------
    key, title, text : str
        Short name, heading, and one or more sentences.
    source : str
        Where it comes from.
    first : bool
        Belongs on the first screen.
    """

    key: str
    title: str
    text: str
    source: str
    first: bool = False


COMMON = "common practice, no source"

CAUTIONS: tuple[Caution, ...] = (
    Caution(
        "range",
        "Only where it was tried",
        "These figures hold for the cutters, bar, machine, coolant and settings of this trial. A new heat of bar, "
        "another diameter, overhang or speed opens the question again, and no figure outside the tested range is "
        "given without saying so.",
        "principle of this program; that a bend in the line misleads outside the tested speeds was checked by "
        "simulation",
        first=True,
    ),
    Caution(
        "authority",
        "What stands above this report",
        "The machine's manual, local law and codes, the shop's risk assessment and its trained and licensed people "
        "come before anything printed here. Where a part's failure could hurt someone, the responsible engineer "
        "decides.",
        COMMON,
        first=True,
    ),
    Caution(
        "limits",
        "Makers' limits",
        "Stay inside what the makers of cutter, holder and machine allow in speed, ramp angle, overhang and balance. A "
        "cutter that does not cut to its centre must not be plunged.",
        COMMON,
    ),
    Caution(
        "fragments",
        "Worn cutters break",
        "Running cutters to their end can throw pieces. Keep doors shut and guards and rated windows in place, and "
        "have everyone near wear eye protection. Stopping at a wear limit is safer than running to breakage.",
        "29 CFR 1910.212(a)(1) requires guarding against flying chips and rotating parts; from memory",
    ),
    Caution(
        "handling",
        "Chips and edges",
        "Chips, of stainless steel above all, can be long, hot and sharp: stop the spindle and use a hook or brush, "
        "never fingers or an air gun. Measure with the spindle stopped and locked, and keep gloves away from "
        "anything that turns. Chips that are cut twice spoil a comparison: write them into the log.",
        COMMON,
    ),
    Caution(
        "mist",
        "Coolant mist",
        "Long trials at high speed make more mist. NIOSH recommends no more than 0.4 mg/m³ of thoracic particulate, "
        "or 0.5 mg/m³ in total, as an average over a working day of up to ten hours. Check the concentration of the "
        "fluid, and protect the skin.",
        "NIOSH publication 98-102, Criteria for a recommended standard: occupational exposure to metalworking fluids; "
        "the figures from memory",
    ),
    Caution(
        "fire",
        "Fire and dust",
        "Fire from titanium or magnesium chips and from oil mist lies outside what this program knows. Ask those who "
        "are responsible for it before such a trial.",
        COMMON,
    ),
    Caution(
        "people",
        "People are not on trial",
        "Names of operators are personal data: use initials or codes in a log. They stay out of this report unless "
        "asked for, and its figures must not be used to rank people.",
        COMMON,
    ),
)
"""All of them, the most general first."""


def first_cautions() -> tuple[Caution, ...]:
    """Those that belong on the first screen."""
    return tuple(caution for caution in CAUTIONS if caution.first)
