"""Judgement: from an estimate, what was said and what was assumed, to an interval and a word.

The rule: **a verdict holds for every value that was not said; if it does not, the word is** ``cannot-tell`` **and the
sentence names what to say.** What was said is never widened beyond its digits and its stated uncertainties.

In three steps, on arrays, without a question where there is none:

1. `Allowances.of(reference)`: how far things may differ from what was said, each number once, from the table
   ``judgement-allowances``. `Allowances.split(band)` parts a method's band into what is common to all settings and
   what each has of its own (standard uncertainties); `Allowances.lag(irradiated)` is the one-sided factor upward for
   first electrons that come late, `Allowances.weather(pressure)` and `Allowances.anywhere` are ranges of pressure.
2. `unsaid(question, situation, allowances)`: the things that were not said, each an `Unsaid` with its values (of a
   number the two ends). A lookup adds its own: ``Unsaid("measure", "the measure", (...))``. Half a digit of the last
   place typed is ``question.half_digit(name)``; `typed_digits` is that of pressure and temperature.
3. `needs(arrangement, case, unsaid, allowances=..., off=...)`: what n gaps need over all m combinations, evaluated as
   one array per waveform and polarity. ``off`` holds how far *said* values may be off (digits, stated
   uncertainties), by name, SI, one number or one per element: they go into the band. The `Needs` have

   * ``value``, ``low``, ``high``: shape (m, n), the method's estimate and its band;
   * ``least``, ``most``: the same with the scatter of impulses, and the lag upward;
   * ``range``: least and most over all combinations, shape (n,).

   `agreed(words, needs.choice, needs.unsaid)` makes one word of the words of all combinations, or ``cannot-tell``
   with what it depends on.

A distance that must hold in any weather is sought over ``in_all_weather(case, unsaid)``: one element a combination.
A check with many settings asks once: ``case`` has one element per setting, ``off={"gap": tolerance, "sphere_diameter":
tolerance}``; the half width of an input that was not said is that of ``value`` over the combinations.
"""

from service.judgement.allowances import LATE_WAVEFORMS, Allowances
from service.judgement.unsaid import (
    CANNOT_TELL,
    WEATHER,
    Agreed,
    Needs,
    Unsaid,
    agreed,
    combinations,
    in_all_weather,
    listed,
    needs,
    typed_digits,
    unsaid,
)

__all__ = [
    "CANNOT_TELL",
    "LATE_WAVEFORMS",
    "WEATHER",
    "Agreed",
    "Allowances",
    "Needs",
    "Unsaid",
    "agreed",
    "combinations",
    "in_all_weather",
    "listed",
    "needs",
    "typed_digits",
    "unsaid",
]
