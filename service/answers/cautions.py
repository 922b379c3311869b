"""The caution sentences, by key, and where gases and conditions call for them.

Guidance is never called compliance and an estimate never a rating; the wording is fixed here, once.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

SENTENCES: Mapping[str, str] = {
    "rules-first": (
        "Written for trained people at installed systems; shown so that you can find the rule. It gives no "
        "permission. "
        "Your law, your employer and a licensed or competent person decide; until then switch off, discharge "
        "and earth, "
        "or stay outside the largest distance behind a locked barrier."
    ),
    "estimate": (
        "An estimate for clean, dry electrodes of exactly this shape; a burr, dust, a flame or the spark before it "
        "lowers the voltage."
    ),
    "which-end": "To keep apart, use the larger distance; to make it jump, the smaller.",
    "not-a-barrier": "Never let this distance be the only thing between a person and a live part.",
    "first-spark": (
        "Judge only the first jump between cold electrodes; a spark already burning can be drawn out far "
        "beyond what it "
        "could jump."
    ),
    "discharge-first": "Switch off, discharge and short before a hand goes near the spheres, every time.",
    "divider-earth": (
        "Connect the divider's earth first and remove it last: if it falls off, the instrument is at high voltage."
    ),
    "ratio-only": (
        "This compares a ratio; it does not say what voltage the probe can bear, nor that it is right at "
        "other frequencies."
    ),
    "mean-current": (
        "The balance limits the average current only; charge stored in leads and capacitors comes out at once."
    ),
    "below-a-limit": (
        "Below a limit is not the same as out of danger: these limits were written for enclosed and tested "
        "products, and "
        "a small shock can throw a hand into a greater danger."
    ),
    "charge-unknown": ("Stored charge unknown: treat the circuit as dangerous until discharged, shorted and measured."),
    "bleeder": (
        "The time holds only while the resistor is whole and connected; check with a meter made for the full "
        "voltage, "
        "then leave a shorting lead in place."
    ),
    "self-charge": "A discharged high-voltage capacitor can charge itself again: store it shorted.",
    "fast-current": "A current too fast to feel still burns.",
    "x-rays": (
        "Above about 5 kV across a vacuum or very thin gas, X-rays are possible, from old bulbs and valves "
        "too; let a "
        "competent person measure before anyone stays near."
    ),
    "ozone": (
        "Sparks and corona make ozone and nitrogen oxides; your nose stops noticing before the gas is gone. Ventilate."
    ),
    "fire": (
        "A spark too weak to feel can light gas or solvent vapour, and a repeating one chars and lights "
        "solids: clear the "
        "bench."
    ),
    "insulated-wire": (
        "Insulated wire is not made touchable by its insulation at these voltages: the air at its surface may "
        "break down "
        "first."
    ),
    "ultraviolet": "Ultraviolet lamps for irradiation harm eyes and skin: shield them.",
    "local-codes": (
        "Guidance from tables, some of them from memory; local codes, the printed standard and licensed "
        "practice decide."
    ),
}


GASES: Mapping[str, str] = {
    "suffocation": "This gas suffocates without warning: ventilate, and never lean into the vessel.",
    "by-products": (
        "Sparks turn sulfur hexafluoride into poisonous by-products, and emission rules forbid venting it: recover it."
    ),
    "explosion": "This gas explodes with air: keep air out before the voltage comes on.",
    "fire": "Oxygen makes oil, grease and cloth burn fiercely: keep them, and open sparks, away from it.",
    "poison": "This gas poisons in small amounts: closed vessel, extraction and a detector before it is opened.",
    "fluorinated": (
        "Sparks turn halogenated gases into poisonous, corrosive by-products, and emission rules may forbid venting: "
        "recover them."
    ),
    "oxidizer": "This gas feeds fire as oxygen does, and dulls the senses: no oil or grease, and ventilate.",
    "scald": "Hot vapour scalds, and condenses on cold insulators.",
    "vessel": "Pressure vessels burst and evacuated glass implodes: shield them.",
}
"""What a gas adds under the key ``gases``; which of them belong to a gas stands in its row of the gases table."""


def cautions(keys: Iterable[str], gases: Iterable[str] = ()) -> list[dict[str, str]]:
    """Return caution blocks for the keys, each once, in the order asked.

    Parameters
    ----------
    keys : iterable of str
        Keys of `SENTENCES`.
    gases : iterable of str
        Keys of `GASES`, joined to one block ``gases``.
    """
    blocks = [{"key": key, "text": SENTENCES[key]} for key in dict.fromkeys(keys)]
    words = " ".join(GASES[key] for key in dict.fromkeys(gases))
    return [*blocks, {"key": "gases", "text": words}] if words else blocks
