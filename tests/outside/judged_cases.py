"""Whole jobs, and what a person expects of them by the rules of judging.

Every number was worked out by hand from the rule that the title names; the
arithmetic stands beside it. The motors are invented; a figure of a standard is
the one that the rule quotes.
"""

from math import sqrt
from time import sleep

MOTORS = (
    "model,kind,rated_v,reference_c,main_min_ohms,main_max_ohms,start_min_ohms,start_max_ohms,line_min_ohms,line_max_ohms,"
    "electronics,profile,source,insulation,insulation_test,max_test_v,unbalance_max_percent,conductor,sensors\n"
    "HB-CP 40,two_wire,230,25,38.0,44.0,,,,,no,machinery,plate of the ponds,,,,,,\n"
    "HB-CP 41,two_wire,230,25,1.8,2.2,,,,,no,machinery,plate of the ponds,,,,,,\n"
    "HB-CP 42,two_wire,230,20,38.0,44.0,,,,,no,machinery,plate of the ponds,,,,,aluminium,\n"
    "HB-CP 43,two_wire,230,20,38.0,44.0,,,,,no,machinery,plate of the ponds,,,250,,,\n"
    "HB-CP 44,two_wire,230,20,38.0,44.0,,,,,no,machinery,plate of the ponds,,,500,,,\n"
    "HB-CP 45,two_wire,230,20,38.0,44.0,,,,,yes,machinery,plate of the ponds,,,,,,\n"
    "HB-CP 46,two_wire,230,20,38.0,44.0,,,,,unknown,machinery,plate of the ponds,,,,,,\n"
    "HB-CP 47,two_wire,230,20,38.0,44.0,,,,,no,machinery,plate of the ponds,,forbidden,,,,\n"
    "HB-CP 48,two_wire,230,20,38.0,44.0,,,,,yes,machinery,plate of the ponds,,leads_joined_only,,,,\n"
    "HB-CP 49,two_wire,400,20,38.0,44.0,,,,,no,ieee43,plate of the ponds,thermosetting,,,,,\n"
    "HB-CP 50,two_wire,400,20,38.0,44.0,,,,,no,,plate of the ponds,,,,,,\n"
    "HB-CP 51,two_wire,400,20,38.0,44.0,,,,,no,ieee43,plate of the ponds,,,,,,\n"
    "HB-WP 22,three_wire,230,20,1.8,2.2,5.0,6.2,,,no,machinery,plate of the ponds,,,,,,\n"
    "HB-AB 5,other,400,20,,,,,,,no,machinery,plate of the ponds,,,,,,\n"
    "HB-AB 7,three_phase,400,20,,,,,4.6,5.4,no,machinery,plate of the ponds,,,,,,\n"
    "HB-AB 8,three_phase,400,20,,,,,4.6,5.4,no,machinery,plate of the ponds,,,,4,,\n"
)
PROFILES = """
[[profile]]
name = "east-ponds"
source = "hatchery rule 3 (invented)"
minimum = [{ megohm = 7 }, { condition = "in-pond", megohm = 3 }]
test_voltage = [{ low_v = 250, high_v = 250 }]
"""
SHEET = """
title = "Only what the pond crew does"
[[step]]
point = "ground_path path"
[[step]]
point = "winding all"
[[step]]
point = "ground all"
[[step]]
point = "insulation all_to_ground"
say = "Chain off the gangway first."
"""
BAD_SHEET = """
title = "A test voltage before the windings"
[[step]]
point = "insulation all_to_ground"
[[step]]
point = "winding all"
"""
HIGH_SHEET = """
title = "A test voltage that not every motor may have"
[[step]]
point = "ground_path path"
[[step]]
point = "winding all"
[[step]]
point = "ground all"
[[step]]
point = "insulation all_to_ground"
test_voltage = 1000
"""
LEAD_SHEET = """
title = "One lead against the others"
[[step]]
point = "ground_path path"
[[step]]
point = "winding all"
[[step]]
point = "ground all"
[[step]]
point = "insulation line_1_to_ground"
"""
FLAGS = """
about = "an invented ohmmeter that says its state: a line of resistance; a word"
frame.delimited = { ends = ["\\n", "\\r"], max = 64 }
prepare = [{ fields = { separator = ";", count = 2 } }]
[[table.state]]
word = ["-"]
[[table.state]]
word = ["HOLD"]
flags = ["frozen"]
[[table.state]]
word = ["MAX"]
flags = ["max"]
[[table.state]]
word = ["REL"]
flags = ["relative"]
[[table.state]]
word = ["BATT"]
flags = ["low_battery"]
[[reading]]
quantity = "main"
unit = "ohm"
units = ["volt"]
value.number = { suffix = "display", field = 1, separator = ";" }
marks = [{ from.field = { field = 2, separator = ";" }, table = "state" }]
over.words = ["OL"]
"""
MEGS_FLAGS = """
about = "an invented insulation tester that says its state: resistance; test voltage; seconds; a word"
frame.delimited = { ends = ["\\n", "\\r"], max = 96 }
prepare = [{ fields = { separator = ";", count = 4 } }]
[[table.state]]
word = ["-"]
[[table.state]]
word = ["BATT"]
flags = ["low_battery"]
[[reading]]
quantity = "main"
unit = "ohm"
value.number = { suffix = "display", field = 1, separator = ";" }
marks = [{ from.field = { field = 4, separator = ";" }, table = "state" }]
over.words = ["OL"]
nothing.words = ["---"]
[[reading]]
quantity = "test_voltage"
unit = "volt"
value.number = { suffix = "display", field = 2, separator = ";" }
[[reading]]
quantity = "elapsed"
unit = "second"
value.number = { suffix = "display", field = 3, separator = ";" }
"""
CATALOGUE = {
    "motors.csv": MOTORS,
    "profiles.toml": PROFILES,
    "sheets/crew.toml": SHEET,
    "sheets/backwards.toml": BAD_SHEET,
    "points.csv": "model,point,min_ohms,max_ohms\nHB-AB 5,pair_1_4,1.0,1.4\nHB-AB 5,pair_2_5,1.0,1.4\nHB-AB 5,pair_3_6,1.0,1.4\n",
    "sheets/high.toml": HIGH_SHEET,
    "sheets/low.toml": HIGH_SHEET.replace("1000", "250"),
    "sheets/leads.toml": LEAD_SHEET,
    "protocols/flags-line.toml": FLAGS,
    "protocols/megs-flags.toml": MEGS_FLAGS,
}
# Each daemon: what stands at the top of its configuration.
DAEMONS = {"plain": 'motors = "motors.csv"\n', "wire": 'motors = "motors.csv"\n', "strict": 'motors = "motors.csv"\nrequire_calibrated = true\n'}

JOBS = []
USUAL = {
    "leads before": ["0.30"],
    "leads before of the tester": ["0.00 M"],
    "ground_path path": ["0.50"],
    "ground all_to_ground": ["60.0 M"],
    "insulation all_to_ground": [{"shown": "550 M", "test_voltage_v": 510, "elapsed_s": 10}],
    "leads after": ["0.30"],
    "leads after of the tester": ["0.00 M"],
}
WINDINGS = {
    "two_wire": {"winding main": ["41.30"]},
    "three_wire": {"winding main": ["2.30"], "winding start": ["5.90"], "winding total": ["7.90"]},
    "other": {"winding pair_1_4": ["1.50"], "winding pair_2_5": ["1.50"], "winding pair_3_6": ["1.50"]},
    "three_phase": {"winding line_12": ["5.30"], "winding line_23": ["5.30"], "winding line_31": ["5.30"]},
}
OHMS = {"accuracy": "[{ percent = 0.5, counts = 2 }]", "over_range_above_ohms": "40_000_000"}
MEGS = {"accuracy": "[{ percent = 5, counts = 3 }]"}


def kind(motor):
    if isinstance(motor, dict):
        return motor["kind"]
    if motor == "HB-AB 5":
        return "other"
    return {"HB-C": "two_wire", "HB-W": "three_wire", "HB-A": "three_phase"}[motor[:4]]


def want(word, *words, **numbers):
    """A row: its verdict and finding, words of its reason, numbers of its columns."""
    return {"is": word, "words": words, **numbers}


def whole(title, motor, see, expect, outcome, **more):
    """A whole job; what the table leaves out is as on a motor with nothing wrong."""
    seen = {**USUAL, **WINDINGS[kind(motor)], **see}
    as_list = lambda takes: takes if isinstance(takes, list) else [takes]
    JOBS.append(
        {
            "title": title,
            "motor": motor,
            "see": {key: as_list(takes) for key, takes in seen.items()},
            "expect": {k: [want(e) if isinstance(e, str) else e for e in as_list(w)] for k, w in expect.items()},
            "outcome": outcome,
            "job": more.pop("job", {}),
            "ohms": {**OHMS, **more.pop("ohms", {})},
            "tester": None if more.get("tester", 0) is None else {**MEGS, **more.pop("tester", {})},
            "daemon": more.pop("daemon", "plain"),
            "streamed": more.pop("streamed", False),
            "ever": {key for key in seen if key.startswith("leads")},
            **{key: more.pop(key, []) for key in ("end", "not_end", "banners", "no_banners", "says", "no_says")},
            **more,
        }
    )


def u(value, resolution, percent=0.5, counts=2):
    """U of a meter, k = 2: GUM type B (JCGM 100, 4.3.7), a rectangular."""
    a = percent * value / 100 + counts * resolution
    return 2 * sqrt(a**2 / 3 + (resolution / 2) ** 2 / 3)


def u_net(net, resolution, percent=0.5):
    """The same where the null of its range was subtracted: the counts cancel, the resolution is there twice."""
    return 2 * sqrt((percent * net / 100) ** 2 / 3 + 2 * (resolution / 2) ** 2 / 3)


def heat(value, kelvin, at=20.0, k=234.5):
    """U of a temperature that may be off by so many kelvin, rectangular."""
    return value * 2 * kelvin / sqrt(3) / (k + at)


def both(*parts):
    return sqrt(sum(p**2 for p in parts))


def megs(shown, volts=510, elapsed=10, **more):
    return {"shown": shown, "test_voltage_v": volts, "elapsed_s": elapsed, **more}


def again(key):
    return lambda hand: hand.act("redo", point=key)


OVER = megs("OL", full_scale_ohms=20_000_000_000)
INSULATION, GROUND = "insulation all_to_ground", "ground all_to_ground"
UNLISTED = {"kind": "two_wire", "rated_v": 400, "electronics": "no"}

# Nothing wrong: every point of each kind, to no_fault_found.

for motor, of in (("HB-CP 40", {"winding main": want("pass within", judged=41.0, leads=0.3, lower=38, upper=44, acceptance="simple", limits_from="plate of the ponds", shown="41.30 Ω", resolution=0.01, method="manual")}),
                  ("HB-WP 22", {"winding main": want("pass within", judged=2.0), "winding start": want("pass within", judged=5.6), "winding set": "pass within"}),
                  ("HB-AB 7", {"winding line_12": want("pass within", judged=5.0), "winding set": "pass within"})):
    whole(f"nothing wrong: {motor}", motor, {}, {**of, GROUND: "pass no_fault_seen", INSULATION: want("pass within", lower=1e6, judged=550e6, u=u(550e6, 1e6, 5, 3), volts=510, elapsed=10, limits_from="IEC 60204-1 clause 18.3", acceptance="guarded"), "leads after": "pass within", "ground_path path": "pass within"}, "no_fault_found",
          not_end=["DO NOT ENERGIZE"], says=["Confirm that the display changes", "Drive, soft starter, control box, arrester, capacitor", "stands clear", "Short the winding to ground"])

# Rule 1: over-range is more than F, between two proofs and with contact.

whole("rule 1: over-range passes between two proofs, both ends attested", "HB-CP 40", {INSULATION: OVER},
      {INSULATION: [want("undecided leads_unproven", "not proven yet"), want("pass above_range", "attested", event="judged", of_first=True)]}, "no_fault_found", banners=["NOT PROVEN YET"])
whole("rule 1: over-range without the second proof", "HB-CP 40", {INSULATION: OVER, "leads after of the tester": {"skip": "no time"}}, {INSULATION: "undecided leads_unproven"}, "undecided", end=["DO NOT ENERGIZE"])
whole("rule 1: over-range without the first proof", "HB-CP 40", {INSULATION: OVER, "leads before of the tester": {"skip": "no time"}}, {INSULATION: "undecided leads_unproven"}, "undecided", end=["DO NOT ENERGIZE"])
whole("rule 1: a value without the first proof", "HB-CP 40", {"leads before of the tester": {"skip": "no time"}}, {INSULATION: "undecided leads_unproven"}, "undecided")
whole("rule 1: nobody looks at both ends", "HB-CP 40", {INSULATION: OVER, "both_ends": [lambda hand: hand.act("skip", reason="too far away")]}, {INSULATION: "undecided contact_unproven"}, "undecided", end=["DO NOT ENERGIZE"])
whole("rule 1: a lead is open at the second proof, then all again", "HB-CP 40",
      {INSULATION: [OVER, megs("550 M")], "leads after of the tester": ["OL", "0.00 M"]},
      {INSULATION: ["undecided leads_unproven", "pass within"], "leads after of the tester": ["fail open", "pass within"]}, "no_fault_found")
whole("rule 1: an ohmmeter's over-range with the winding's value at a second lead", "HB-CP 40", {GROUND: "OL", "contact ground all_to_ground": "41.30"},
      {GROUND: ["undecided leads_unproven", want("pass no_fault_seen", of_first=True)]}, "no_fault_found")
whole("rule 1: clips that were joined are no contact", "HB-CP 40", {GROUND: "OL", "contact ground all_to_ground": ["0.30", "41.20"]}, {GROUND: "pass no_fault_seen"}, "no_fault_found")
whole("rule 1: contact is left out", "HB-CP 40", {GROUND: "OL", "contact ground all_to_ground": {"skip": "buried"}}, {GROUND: "undecided contact_unproven"}, "undecided", end=["DO NOT ENERGIZE"])
whole("rule 1: F is not known", "HB-CP 40", {GROUND: "OL", "contact ground all_to_ground": "41.30"}, {GROUND: "undecided range_suspect"}, "undecided", ohms={"over_range_above_ohms": None})
whole("rule 1: F of a tester is not known", "HB-CP 40", {INSULATION: megs("OL")}, {INSULATION: "undecided range_suspect"}, "undecided")
whole("rule 1: F below the minimum", "HB-CP 40", {GROUND: "OL", "contact ground all_to_ground": "41.30"}, {GROUND: "undecided range_suspect"}, "undecided", ohms={"over_range_above_ohms": "400_000"})
# 1.004 − 2 × 0.00502/√3 = 0.9982 megohm.
whole("rule 1: F above the minimum but not by U", "HB-CP 40", {GROUND: "OL", "contact ground all_to_ground": "41.30"}, {GROUND: "undecided range_suspect"}, "undecided", ohms={"over_range_above_ohms": "1_004_000"})
whole("rule 1: F of the row decides, not the configured one", "HB-CP 40", {GROUND: {"shown": "OL", "full_scale_ohms": 400_000}, "contact ground all_to_ground": "41.30"}, {GROUND: "undecided range_suspect"}, "undecided")
whole("rule 1: leads after may differ by 0.5 ohm", "HB-CP 40", {GROUND: "OL", "contact ground all_to_ground": "41.30", "leads after": "0.80"}, {GROUND: "pass no_fault_seen", "leads after": "pass within"}, "no_fault_found")
whole("rule 1: leads after that changed by more prove nothing", "HB-CP 40", {GROUND: "OL", "contact ground all_to_ground": "41.30", "leads after": ["0.81", {"skip": "worn"}]}, {"leads after": "fail changed", GROUND: "undecided leads_unproven"}, "undecided")
whole("rule 1: a tester's joined clips above 100 kilohm", "HB-CP 40", {"leads before of the tester": ["0.15 M", "0.10 M"]}, {"leads before of the tester": ["fail high", "pass within"], INSULATION: "pass within"}, "no_fault_found")
whole("rule 1: a tester with its own proof_max_ohms", "HB-CP 40", {"leads before of the tester": "0.15 M"}, {"leads before of the tester": "pass within", INSULATION: "pass within"}, "no_fault_found", tester={"proof_max_ohms": "200_000"})

# Rule 3: the reference is ground. The bare frame needs no path.

for reference, path, proven in (("frame", "5.30", True), ("ground_conductor", "1.30", True), ("ground_conductor", "5.30 k", False), ("metal_pipe", "0.90", True),
                                ("metal_pipe", "5.30 k", False), ("casing", "600", True), ("casing", "1.20 k", False), ("other", "900", True), ("other", "OL", False), ("ground_conductor", "300", True)):
    found = "pass within" if proven and path != "5.30" else "undecided ground_path_unproven"
    end = "no_fault_found" if found == "pass within" else "undecided"
    points = {GROUND: "pass no_fault_seen", INSULATION: "pass within"} if proven else {GROUND: "undecided ground_path_unproven", INSULATION: "undecided ground_path_unproven"}
    whole(f"rule 3: {reference} at {path}", "HB-CP 40", {"ground_path path": path}, {"ground_path path": found, **points}, end, job={"ground_reference": reference})
whole("rule 3: an unproven ground hides no fault", "HB-CP 40", {"ground_path path": "OL", INSULATION: megs("0.20 M"), GROUND: "0.20 M"}, {GROUND: "fail to_ground", INSULATION: "fail below_minimum"}, "fault_found", job={"ground_reference": "casing"}, end=["DO NOT ENERGIZE"])
whole("rule 3: the path is left out on a casing", "HB-CP 40", {"ground_path path": {"skip": "no second ground"}}, {INSULATION: "undecided ground_path_unproven"}, "undecided", job={"ground_reference": "casing"})

# Rule 4: the null.

whole("rule 4: leads above 1 ohm", "HB-CP 40", {"leads before": ["1.01", "1.00"], "ground_path path": "1.20", "leads after": "1.00"}, {"leads before": [want("fail high", "replace the leads"), "pass within"], "winding main": want("pass within", leads=1.0, judged=40.3)}, "no_fault_found")
# 0.24 − 0.30 = −0.06: six counts below nothing.
whole("rule 4: a result below minus five counts", "HB-CP 40", {"winding main": "0.24"}, {"winding main": "undecided null_suspect"}, "undecided")
# 0.25 − 0.30 = −0.05: five counts, no more; nothing where 38 ohm should be.
whole("rule 4: minus five counts is still nothing", "HB-CP 40", {"winding main": "0.25"}, {"winding main": "fail shorted"}, "fault_found")
whole("rule 4: four wires subtract nothing", "HB-CP 40", {}, {"winding main": want("pass within", judged=41.3, leads=None, u=both(u(41.3, 0.01), heat(41.3, 20)))}, "no_fault_found", ohms={"terminals": "4"})
whole("rule 4: the null of another range", "HB-CP 40", {"winding main": "41.3"}, {"winding main": want("pass within", judged=41.0, leads=0.3, u=both(u(41.3, 0.1), u(0.3, 0.01), heat(41, 20)))}, "no_fault_found")
whole("rule 4: insulation is not nulled", "HB-CP 40", {GROUND: "2.00 M"}, {GROUND: want("pass no_fault_seen", judged=2e6, leads=None)}, "no_fault_found")

# Rule 5: limits after leads and cable, at the reference where the temperature is known.

# 42.00 × (234.5 + 25)/(234.5 + 35) = 40.4416.
whole("rule 5: corrected", "HB-CP 40", {"winding main": "42.30"}, {"winding main": want("pass within", "35", judged=40.4416, u=both(u_net(42, 0.01), heat(42, 3.5, 35)) * 259.5 / 269.5)}, "no_fault_found", job={"temperature": "35C"})
# 45.00 at 60 °C is 45.00 × 259.5/294.5 = 39.652 at 25 °C: within, though it reads too high.
whole("rule 5: hot and within", "HB-CP 40", {"winding main": "45.30"}, {"winding main": want("pass within", judged=39.6520)}, "no_fault_found", job={"temperature": "60C"})
# 39.00 at 60 °C is 34.365 at 25 °C: low, though it reads within.
whole("rule 5: hot and low", "HB-CP 40", {"winding main": "39.30"}, {"winding main": want("fail low", judged=34.3650)}, "fault_found", job={"temperature": "60C"})
whole("rule 5: not corrected", "HB-CP 40", {}, {"winding main": want("pass within", "not corrected", judged=41.0, u=both(u_net(41, 0.01), heat(41, 20)))}, "no_fault_found")
# Aluminium: 41.00 × (228 + 20)/(228 + 50) = 36.5755.
whole("rule 5: aluminium", "HB-CP 42", {}, {"winding main": want("fail low", judged=36.5755)}, "fault_found", job={"temperature": "50C"})
# 2 × 120/(58 × 2.5) × 246.5/254.5 = 1.6031; 43.90 − 0.30 − 1.603 = 41.997.
whole("rule 5: a cable of one segment", "HB-CP 40", {"winding main": "43.90"}, {"winding main": want("pass within", judged=41.997, cable=1.603, u=both(u_net(43.6, 0.01), 0.1603, heat(41.997, 20)))}, "no_fault_found",
      job={"measured_at": "panel", "ground_reference": "frame", "cable": "120 m 2.5 mm2 copper 12 C"})
# and 2 × 80/(58 × 5.2612) × 1.02 = 0.5348 (ASTM B258): 2.138 together.
whole("rule 5: a cable of two segments", "HB-CP 40", {"winding main": "43.90"}, {"winding main": want("pass within", judged=41.462, cable=2.138)}, "no_fault_found",
      job={"measured_at": "panel", "ground_reference": "frame", "cable": "120 m 2.5 mm2 copper 12 C + 80 m awg 10 stranded"})
whole("rule 5: a measured loop with its own doubt", "HB-CP 40", {"winding main": "43.70"}, {"winding main": want("pass within", judged=42.0, cable=1.4, u=both(u_net(43.4, 0.01), 0.028, heat(42, 20)))}, "no_fault_found",
      job={"measured_at": "splice", "ground_reference": "frame", "cable_ohms": "1.40", "cable_doubt_percent": 2})
whole("rule 5: at the panel, the cable not given", "HB-CP 40", {}, {"winding main": want("undecided within", "splice")}, "undecided", job={"measured_at": "panel", "ground_reference": "frame"})

# Rule 6: simple and guarded.

whole("rule 6: simple, a limit within U", "HB-CP 40", {"winding main": "43.90"}, {"winding main": want("pass within", "within U", "simple", acceptance="simple")}, "no_fault_found", job={"temperature": "25C"})
whole("rule 6: guarded, a limit within U", "HB-CP 40", {"winding main": "43.90"}, {"winding main": want("undecided within", "guarded", acceptance="guarded")}, "undecided", job={"temperature": "25C", "acceptance": "guarded"})
whole("rule 6: guarded, U to spare", "HB-CP 40", {}, {"winding main": want("pass within", acceptance="guarded")}, "no_fault_found", job={"temperature": "25C", "acceptance": "guarded"})
whole("rule 6: guarded, beyond by more than U", "HB-CP 40", {"winding main": "46.30"}, {"winding main": "fail high"}, "fault_found", job={"temperature": "25C", "acceptance": "guarded"})
# 44.30 at 25 °C, U 0.71: beyond the limit by less than U.
whole("rule 6: guarded, beyond by less than U", "HB-CP 40", {"winding main": "44.60"}, {"winding main": "undecided high"}, "undecided", job={"temperature": "25C", "acceptance": "guarded"})
# The example of the rules: 4.3 − 0.3 − 2.07 = 1.93; × 259.5/264.5 = 1.8935; U of cable 0.207, meter 0.0816, heat 0.029: 2 U is more than 0.4.
narrow = {"temperature": "30C", "measured_at": "panel", "ground_reference": "frame", "cable_ohms": "2.07"}
leads = {"leads before": "0.3", "leads after": "0.3", "winding main": "4.3"}
narrow_u = both(u_net(4.0, 0.1), 0.207, heat(1.93, 3.5, 30)) * 259.5 / 264.5
whole("rule 6: limits narrower than 2 U, guarded", "HB-CP 41", leads, {"winding main": want("undecided limits_too_narrow", "shown 4.3 Ω − leads 0.3 − cable 2.07 = 1.93 Ω", "1.89", "limits 1.8 to 2.2", "guarded", "cable", "splice", judged=1.894, u=narrow_u)}, "undecided", job={**narrow, "acceptance": "guarded"})
whole("rule 6: limits narrower than 2 U, simple", "HB-CP 41", leads, {"winding main": want("pass within", "cable", "splice", judged=1.894, u=narrow_u)}, "no_fault_found", job=narrow)

# Rule 7: out is out.

whole("rule 7: a little low", "HB-CP 40", {"winding main": "38.29"}, {"winding main": want("fail low", "heat", "shorted turns", judged=37.99)}, "fault_found")
whole("rule 7: a little high", "HB-CP 40", {"winding main": "44.31"}, {"winding main": want("fail high", "joint", judged=44.01)}, "fault_found")
whole("rule 7: just at the limits", "HB-CP 40", {"winding main": "44.30"}, {"winding main": want("pass within", judged=44.0)}, "no_fault_found")
whole("rule 7: open", "HB-CP 40", {"winding main": "OL"}, {"winding main": want("fail open", event="open")}, "fault_found")
whole("rule 7: over-range of a range that is too low", "HB-CP 40", {"winding main": [{"shown": "OL", "full_scale_ohms": 4}, {"skip": "no other range"}]}, {"winding main": "undecided range_suspect"}, "undecided")
whole("rule 7: both pairs of common over-range, run to start reads", "HB-WP 22", {"winding main": "OL", "winding start": "OL"}, {"winding set": want("undecided open", "thermal switch", "cool")}, "undecided")
whole("rule 7: only the start winding is open", "HB-WP 22", {"winding start": "OL", "winding total": "OL"}, {"winding start": "fail open", "winding set": want("fail open", "start")}, "fault_found")

# Rule 8: kilohms where ohms are expected.

whole("rule 8: kilohms once, then ohms", "HB-CP 41", {"winding main": ["22.7 k", "2.30"]}, {"winding main": ["undecided range_suspect", "pass within"]}, "no_fault_found")
whole("rule 8: kilohms twice", "HB-CP 41", {"winding main": ["22.7 k", "22.7 k"]}, {"winding main": ["undecided range_suspect", want("fail range_suspect", "windings read in ohms: check the meter's range")]}, "fault_found")
whole("rule 8: kilohms, then megohms", "HB-CP 41", {"winding main": ["22.7 k", "0.023 M"]}, {"winding main": "fail range_suspect"}, "fault_found")
whole("rule 8: kilohms once and no more", "HB-CP 41", {"winding main": ["22.7 k", {"skip": "enough"}]}, {"winding main": "undecided range_suspect"}, "undecided")
whole("rule 8: kilohms without limits", UNLISTED, {"winding main": "22.7 k"}, {"winding main": "not_judged "}, "incomplete", job={"profile": "machinery"})
# 19 times 2.2 ohm is no wrong range, it is high.
whole("rule 8: less than twenty times is high", "HB-CP 41", {"winding main": "42.1"}, {"winding main": "fail high"}, "fault_found")

# Rule 9: main + start = total.

whole("rule 9: the sum is there in the set", "HB-WP 22", {}, {"winding set": want("pass within", judged=0.0)}, "no_fault_found")
# 7.75 − 7.60 = 0.15, 2 % of 7.75 is 0.155.
whole("rule 9: off by less than 2 % of total", "HB-WP 22", {"winding total": "8.05"}, {"winding set": want("pass within", judged=0.15)}, "no_fault_found")
whole("rule 9: off by more", "HB-WP 22", {"winding total": "8.10"}, {"winding set": want("fail sum_mismatch", judged=0.2)}, "fault_found")
whole("rule 9: main and start are changed over", "HB-WP 22", {"winding main": "5.90", "winding start": "2.30"}, {"winding set": "undecided leads_mixed"}, "undecided", not_end=["fault_found"])
whole("rule 9: common is taken for start", "HB-WP 22", {"winding main": "2.30", "winding start": "7.90", "winding total": "5.90"}, {"winding set": "undecided leads_mixed"}, "undecided")
whole("rule 9: no limits, the sum decides", {"kind": "three_wire", "rated_v": 230, "electronics": "no"}, {}, {"winding main": "not_judged ", "winding set": "pass within"}, "incomplete")

# Rule 10: three phases. Mean 5.0167, 0.0333 off: 0.66 %.

whole("rule 10: 0.7 %", "HB-AB 7", {"winding line_31": "5.35"}, {"winding set": "pass within"}, "no_fault_found")
# Mean 5.08, 0.16 off: 3.15 %.
whole("rule 10: 3 %", "HB-AB 7", {"winding line_31": "5.54"}, {"winding set": want("undecided unbalanced", "compare connections; some windings exceed 2 %; a four-wire meter decides", "3.1")}, "undecided")
whole("rule 10: 3 % where the catalogue says 4", "HB-AB 8", {"winding line_31": "5.54"}, {"winding set": "pass within"}, "no_fault_found")
# 4.80 4.80 5.25: mean 4.95, 0.30 off: 6.06 %.
whole("rule 10: 6 %", "HB-AB 7", {"winding line_12": "5.10", "winding line_23": "5.10", "winding line_31": "5.55"}, {"winding set": want("fail unbalanced", "6.06")}, "fault_found")
phases = {"kind": "three_phase", "rated_v": 400, "electronics": "no"}
for title, ohms, expected, outcome in (
    ("1 : 1 : 2", ("2.80", "2.80", "5.30"), want("fail open", "1 : 1 : 2"), "fault_found"),
    ("0 : 1 : 1", ("0.30", "5.30", "5.30"), want("fail shorted", "0 : 1 : 1"), "fault_found"),
    ("an open line", ("OL", "OL", "5.30"), want("fail open", "line 2"), "fault_found"),
    ("one over-range is no motor", ("OL", "5.30", "5.30"), "undecided open", "undecided"),
):
    whole(f"rule 10: {title}", phases, dict(zip(WINDINGS["three_phase"], ohms, strict=True)), {"winding set": expected}, outcome, job={"profile": "machinery"})
coarse = {"leads before": "0.0", "leads after": "0.0"}
# 2.0 2.0 2.1: 3.3 %, one count; U 2 × 0.05/√3 × √(2/3) = 0.047 of 2.03: 2.3 %.
whole("rule 10: equal within a count", phases, {**coarse, "winding line_12": "2.0", "winding line_23": "2.0", "winding line_31": "2.1"}, {"winding set": want("pass within", "one count")}, "incomplete", job={"profile": "machinery"})
# 0.4 0.4 0.5: U 0.047 of 0.43 is 11 %.
whole("rule 10: a count too coarse", phases, {**coarse, "winding line_12": "0.4", "winding line_23": "0.4", "winding line_31": "0.5"}, {"winding set": "undecided limits_too_narrow"}, "undecided", job={"profile": "machinery"})
whole("rule 10: twice the limits", "HB-AB 7", {"winding line_12": "10.30", "winding line_23": "10.30", "winding line_31": "10.30"}, {"winding line_12": want("fail high", "connection", "nameplate")}, "fault_found")
whole("rule 10: a cable left in hides unbalance", "HB-AB 7", {}, {"winding set": want("undecided within", "cable", "hides unbalance")}, "undecided", job={"measured_at": "panel", "ground_reference": "frame"})

# 1.20 1.20 1.30: mean 1.2333, 0.0667 off: 5.41 %; U of a count 0.0047 of 1.23: 0.4 %.
whole("rule 10: pairs of points.csv that are equal", "HB-AB 5", {}, {"winding pair_1_4": want("pass within", judged=1.2), "winding set_pair": "pass within"}, "no_fault_found")
whole("rule 10: pairs of points.csv that are not", "HB-AB 5", {"winding pair_3_6": "1.60"}, {"winding pair_3_6": "pass within", "winding set_pair": want("fail unbalanced", "5.4")}, "fault_found")

# Rule 11: guarded. Minimum 1 megohm, the tester 5 % and 3 counts of 0.01: U of 1.20 is 0.104, of 1.05 0.095.

for shown, expected, outcome in (("1.20 M", want("pass within", judged=1.2e6, u=u(1.2e6, 1e4, 5, 3), acceptance="guarded"), "no_fault_found"), ("1.05 M", "undecided within", "undecided"), ("1.00 M", "undecided within", "undecided"), ("0.99 M", "fail below_minimum", "fault_found")):
    whole(f"rule 11: {shown}", "HB-CP 40", {INSULATION: megs(shown)}, {INSULATION: expected}, outcome, end=["DO NOT ENERGIZE"] if outcome != "no_fault_found" else [])
whole("rule 11: a low-voltage ground test below the minimum", "HB-CP 40", {GROUND: "0.99 M"}, {GROUND: "fail to_ground"}, "fault_found", banners=["DO NOT ENERGIZE"])
whole("rule 11: no profile, below half a megohm", "HB-CP 50", {GROUND: "0.49 M", INSULATION: megs("0.49 M")}, {GROUND: "fail to_ground", INSULATION: "fail to_ground"}, "fault_found")
whole("rule 11: no profile, above half a megohm", "HB-CP 50", {GROUND: "60.0 M"}, {GROUND: "not_judged ", INSULATION: "not_judged "}, "incomplete", end=["DO NOT ENERGIZE"])
whole("rule 11: no profile, over-range is never a pass", "HB-CP 50", {GROUND: "OL", INSULATION: OVER}, {GROUND: "not_judged above_range", INSULATION: "not_judged above_range"}, "incomplete")

# Rule 12: what a low voltage clears.

whole("rule 12: no tester", "HB-CP 40", {}, {GROUND: want("pass no_fault_seen", "insulation not tested")}, "incomplete", tester=None, end=["insulation", "DO NOT ENERGIZE"])
whole("rule 12: electronics", "HB-CP 45", {}, {GROUND: "pass no_fault_seen"}, "no_fault_found", end=["insulation not tested", "DO NOT ENERGIZE"])
whole("rule 12: nobody knows of electronics", "HB-CP 46", {}, {GROUND: "pass no_fault_seen"}, "incomplete", end=["DO NOT ENERGIZE"])
whole("rule 12: forbidden", "HB-CP 47", {}, {GROUND: "pass no_fault_seen"}, "no_fault_found", end=["insulation not tested", "DO NOT ENERGIZE"])

# Rule 13: the minimum of each profile and condition in megohms, at so many rated volts, with the test voltage that is planned.

for profile, condition, rated, least, volts, mark in (
    ("ieee43", None, 400, 5, 500, 60), ("ieee43", None, 4000, 100, 1000, 60), ("ieee43", "random-wound", 690, 5, 500, 60), ("ieee43", "form-wound", 690, 5, 500, 60),
    ("ieee43", "form-wound", 6600, 100, 2500, 60), ("ieee43", "before-1970", 4160, 5.16, 1000, 60), ("ieee43", "field", 400, 1.4, 500, 60), ("ieee43", "dc-armature", 500, 5, 500, 60),
    ("kv-plus-one", None, 4160, 5.16, 1000, 60), ("megohm-per-kv", None, 400, 1, 500, 10), ("megohm-per-kv", None, 4160, 4.16, 1000, 10), ("wiring", None, 400, 1, 500, 10),
    ("wiring", "selv", 24, 0.5, 250, 10), ("wiring", None, 690, 1, 1000, 10), ("machinery", None, 400, 1, 500, 10),
    *(("pump-a", c, 400, m, 500, 10) for c, m in (("installed-used", 0.5), ("installed-unused", 2), ("bench-used", 10), ("bench-unused", 200))),
    *(("pump-b", c, 400, m, 500, 10) for c, m in (("installed-used", 0.5), ("installed-unused", 2), ("splice", 2), ("bench-used", 10), ("bench-unused", 20))),
    ("east-ponds", None, 400, 7, 250, 10), ("east-ponds", "in-pond", 400, 3, 250, 10),
):
    motor = {"kind": "two_wire", "rated_v": rated, "electronics": "no"}
    how = {"profile": profile, "temperature": "40C", **({"condition": condition} if condition else {})}
    name = f"rule 13: {profile} {condition or ''} at {rated} V"
    # 1.5 times the minimum holds it with U of 7 % meter and 16 % temperature; 1 % less than the minimum does not.
    for factor, expected, outcome in ((1.5, want("pass within", lower=least * 1e6), "incomplete"), (0.99, want("fail below_minimum", lower=least * 1e6), "fault_found")):
        whole(f"{name}: {factor}", motor, {GROUND: "900 M", INSULATION: megs(f"{least * factor:.4f} M", volts, mark)}, {INSULATION: expected}, outcome, job=how, says=[f"Set {volts} V"])
whole("rule 13: machinery ends at 1000 V", {"kind": "two_wire", "rated_v": 1100, "electronics": "no"}, {GROUND: "60.0 M", INSULATION: megs("60.0 M", 510)}, {INSULATION: "not_judged "}, "incomplete", job={"profile": "machinery"})
for profile, volts in (("twice", 1000), ("two-and-a-half", 1000)):
    # 2 × 460 = 920 and 2.5 × 460 = 1150: the step of 1000 V is the nearest.
    whole(f"rule 13: {profile} has no minimum", {"kind": "two_wire", "rated_v": 460, "electronics": "no"}, {INSULATION: megs("550 M", volts)}, {INSULATION: "not_judged "}, "incomplete", job={"profile": profile}, says=[f"Set {volts} V"])
whole("rule 13: a profile that needs a condition", UNLISTED, {}, {}, "", job={"profile": "pump-a"}, refused=["needs a condition", "installed-used"])
whole("rule 13: a condition of another profile", UNLISTED, {}, {}, "", job={"profile": "pump-a", "condition": "splice"}, refused=["splice", "installed-used"])
whole("rule 13: an unknown profile", UNLISTED, {}, {}, "", job={"profile": "pump-c"}, refused=["pump-c"])

# Correction to 40 °C. Of −10 °C the factor is 1/32, of 80 °C 16 by halving.
for title, shown, expected, outcome in (
    ("passes at the worst", "200 M", "pass within", "no_fault_found"),
    ("neither", "100 M", want("undecided within", "enter the winding's temperature"), "undecided"),
    ("fails at the best", "0.30 M", "fail below_minimum", "fault_found"),
    ("not even at the best", "0.40 M", "undecided below_minimum", "undecided"),
):
    whole(f"rule 13: temperature unknown, {title}", "HB-CP 51", {GROUND: "900 M", INSULATION: megs(shown, elapsed=60)}, {INSULATION: expected}, outcome)
# 20 °C, kind unknown: 40.0 × 0.25 = 10.0. U: (meter 2.66, temperature 0.16 × 40 = 6.40) × 0.25 = 1.73.
whole("rule 13: corrected, the smaller factor", "HB-CP 51", {INSULATION: megs("40.0 M", elapsed=60)}, {INSULATION: want("pass within", judged=10e6, u=1.733e6)}, "no_fault_found", job={"temperature": "20C"})
# Thermosetting: exp(−1245 (1/293 − 1/313)) = 0.7623: 8.00 is 6.098, U 1.05.
whole("rule 13: corrected, thermosetting", "HB-CP 49", {INSULATION: megs("8.00 M", elapsed=60)}, {INSULATION: want("pass within", judged=6.098e6, u=1.047e6, rough=True)}, "no_fault_found", job={"temperature": "20C"})
# Thermosetting below 10 °C by halving: 0.5^3.5 = 0.08839: 80.0 is 7.071, U: (5.31, 12.8) × 0.0884 = 1.23.
whole("rule 13: thermosetting below 10 °C", "HB-CP 49", {GROUND: "900 M", INSULATION: megs("80.0 M", elapsed=60)}, {INSULATION: want("pass within", judged=7.071e6, u=1.226e6, rough=True)}, "no_fault_found", job={"temperature": "5C"})
# 60 °C thermosetting: exp(−4230 (1/333 − 1/313)) = 2.252; unknown kind takes the smaller of that and 4.
whole("rule 13: hot, the smaller factor", "HB-CP 51", {INSULATION: megs("2.00 M", elapsed=60)}, {INSULATION: want("fail below_minimum", judged=4.504e6, rough=True)}, "fault_found", job={"temperature": "60C"})
whole("rule 13: machinery is never corrected", "HB-CP 40", {"winding main": "39.30", INSULATION: megs("1.20 M")}, {INSULATION: want("pass within", judged=1.2e6)}, "no_fault_found", job={"temperature": "5C"})
# Early.
for elapsed, shown, expected, outcome in (
    (30, "4.00 M", want("undecided below_minimum", "hold to 60 s"), "undecided"),
    (30, "0.40 M", "fail below_minimum", "fault_found"),
    (30, "50.0 M", "pass within", "no_fault_found"),
    (60, "4.00 M", "fail below_minimum", "fault_found"),
):
    whole(f"rule 13: {shown} after {elapsed} s", "HB-CP 51", {INSULATION: megs(shown, elapsed=elapsed)}, {INSULATION: expected}, outcome, job={"temperature": "40C"})
whole("rule 13: a spot test read after 3 s", "HB-CP 40", {INSULATION: megs("0.90 M", elapsed=3)}, {INSULATION: "undecided below_minimum"}, "undecided")
whole("rule 13: a spot test read after 5 s", "HB-CP 40", {INSULATION: megs("0.90 M", elapsed=5)}, {INSULATION: "fail below_minimum"}, "fault_found")

# Rule 14: electronics.

press = lambda hand: hand.act("enter", meter=f"t{hand.bench}", point=INSULATION, **megs("550 M"))
for model, outcome in (("HB-CP 45", "undecided"), ("HB-CP 46", "undecided"), ("HB-CP 47", "undecided")):
    whole(f"rule 14: a press on {model}", model, {"leads after": [press, "0.30"]}, {INSULATION: want("not_judged test_forbidden", "release now; electronics may be damaged")}, outcome, no_says=["Press", "test voltage and"])
whole("rule 14: leads joined only goes before electronics", "HB-CP 48", {}, {INSULATION: "pass within"}, "no_fault_found")

# Rule 15: the test voltage.

for volts, expected in ((449, "not_judged wrong_test_voltage"), (450, "pass within"), (625, "pass within"), (626, "not_judged wrong_test_voltage"), (1020, "not_judged wrong_test_voltage")):
    whole(f"rule 15: {volts} V of 500", "HB-CP 40", {INSULATION: megs("550 M", volts)}, {INSULATION: expected}, "no_fault_found" if expected == "pass within" else "incomplete")
whole("rule 15: a sheet with less than the profile's voltage", "HB-CP 40", {INSULATION: megs("550 M", 250)}, {INSULATION: "not_judged wrong_test_voltage"}, "incomplete", job={"sheet": "low"}, says=["Set 250 V"])
whole("rule 15: at most 250 V", "HB-CP 43", {INSULATION: megs("550 M", 250)}, {INSULATION: "pass within"}, "no_fault_found", says=["Set 250 V"])
whole("rule 15: above max_test_v", "HB-CP 44", {INSULATION: megs("550 M", 510)}, {INSULATION: want("not_judged test_forbidden", "release now")}, "incomplete", says=["Set 500 V"])
whole("rule 15: a wrong voltage clears nothing and hides nothing", "HB-CP 40", {INSULATION: [megs("0.10 M", 250), megs("0.10 M")], "leads after": [again(INSULATION), "0.30"]}, {INSULATION: ["not_judged wrong_test_voltage", "fail below_minimum"]}, "fault_found")

# Rule 17: four times the time under voltage; the asset carries it.


def refused_while_discharging(hand):
    body = {"asset": f"asset {hand.bench} {hand.case['title'][:40]}", "bench": f"b{hand.bench}", "motor": "HB-CP 40"}
    answer = str(hand.post("/api/jobs", body, expect=409))
    if "is being discharged" not in answer:
        raise ValueError(f"expected the asset to be discharging, found {answer}")
    other = hand.post("/api/jobs", {**body, "asset": "another pump of bench " + str(hand.bench)})
    hand.post(f"/api/jobs/{other['job']}/end", {})


whole("rule 17: ten seconds are forty", "HB-CP 40", {}, {"insulation all_to_ground": "pass within"}, "no_fault_found", last=refused_while_discharging, reasons=["under voltage for 1[0-2] s: keep it shorted for 4[0-8] s"])

# Rule 18: said at once, and at the end.

whole("rule 18: at once and at the end", "HB-CP 40", {GROUND: "0.10 M"}, {GROUND: "fail to_ground"}, "fault_found", banners=["DO NOT ENERGIZE"], end=["DO NOT ENERGIZE"])
whole("rule 18: at the end without an insulation pass", "HB-CP 40", {INSULATION: {"skip": "no time"}}, {GROUND: "pass no_fault_seen"}, "incomplete", end=["insulation all_to_ground left out", "DO NOT ENERGIZE: no pass of insulation"])

# Rule 19: accuracy not configured: 30 % of 1.40 is 0.42, of 1.50 0.45; 1 % of 41.00 and two counts is 0.43.

bare = {"ohms": {"accuracy": "[]"}, "tester": {"accuracy": "[]"}, "banners": ["accuracy not configured"]}
whole("rule 19: 30 % is not enough at 1.40", "HB-CP 40", {INSULATION: megs("1.40 M")}, {INSULATION: want("undecided within", "30 %", u=0.42e6)}, "undecided", **bare)
whole("rule 19: 30 % leaves enough at 1.50", "HB-CP 40", {INSULATION: megs("1.50 M")}, {INSULATION: want("pass within", u=0.45e6), "winding main": want("pass within", "not configured", u=both(0.43, heat(41, 20)))}, "no_fault_found", **bare)

# Rule 20: overdue.

overdue = {"calibration_due": '"2020-01-31"'}
whole("rule 20: overdue is said", "HB-CP 40", {}, {"winding main": "pass within", INSULATION: "pass within"}, "no_fault_found", ohms=overdue, banners=["calibration is overdue"])
whole("rule 20: overdue passes nothing where it must not", "HB-CP 40", {}, {"winding main": want("undecided within", "overdue"), GROUND: "undecided within"}, "undecided", ohms=overdue, daemon="strict", banners=["calibration is overdue"])
whole("rule 20: overdue still fails", "HB-CP 40", {"winding main": "50.0", INSULATION: megs("0.10 M")}, {"winding main": "fail high", INSULATION: "fail below_minimum"}, "fault_found", ohms=overdue, tester=overdue, daemon="strict")


def prove(shown):
    def ask(hand):
        hand.post("/api/commands", {"act": "prove", "meter": f"o{hand.bench}", "known": [{"resistor": "100 ohm 0.1 %", "shown": shown}], "leads": "0.2"})

    return ask


# 0.5 % of 100 and 2 counts of 0.1, 0.1 % and half a count: 0.7 + 0.1 + 0.05 either way.
whole("rule 20: a check that failed blocks", "HB-CP 40", {}, {"winding main": "undecided within"}, "undecided", before=prove("102.2"), ohms={"serial_number": '"A-0"'})
whole("rule 20: a check that failed, then one that held", "HB-CP 40", {}, {"winding main": "pass within"}, "no_fault_found", before=lambda hand: [prove(shown)(hand) for shown in ("102.2", "100.4")], ohms={"serial_number": '"A-1"'})
whole("rule 20: a check that held", "HB-CP 40", {}, {"winding main": "pass within"}, "no_fault_found", before=prove("100.4"), ohms={"serial_number": '"A-2"'})

# The first row of a job.

whole("the note of job_start", "HB-CP 40", {"winding main": "43.70", "ground_path path": "600"}, {"winding main": "pass within"}, "no_fault_found",
      job={"stage": "repaired", "measured_at": "splice", "ground_reference": "casing", "cable_ohms": "1.40", "temperature": "25C", "acceptance": "guarded", "profile": "pump-b", "condition": "splice", "tester": "Ida"},
      note={"stage": "repaired", "measured_at": "splice", "ground_reference": "casing", "cable": {"ohms": "1.40", "doubt_percent": "10"}, "conditions": {"temperature": 25.0, "acceptance": "guarded", "profile": "pump-b", "condition": "splice"}})

# The same by `stillohm job`, whose exit code says it: a motor with electronics needs no tester.

whole("the terminal: nothing wrong", "HB-CP 45", {}, {"winding main": want("pass within", judged=41.0), GROUND: "pass no_fault_seen"}, "no_fault_found", terminal=True)
whole("the terminal: a little low", "HB-CP 45", {"winding main": "38.29"}, {"winding main": "fail low"}, "fault_found", terminal=True)

# Sheets of the shop.

for wrong, says in (({"temperature": 68}, "68C"), ({"cable": "-5 m 2.5 mm2"}, "length above 0"), ({"cable_ohms": "-1"}, "below 0"), ({"acceptance": "strict"}, "simple, guarded"), ({"ground_reference": "water"}, "unknown")):
    whole(f"refused: {wrong}", "HB-CP 40", {}, {}, "", job=wrong, refused=[says])
whole("refused: a nameplate of 0 V", {**UNLISTED, "rated_v": 0}, {}, {}, "", refused=["volts above 0"])
whole("an own sheet", "HB-CP 40", {}, {"winding main": "pass within", INSULATION: "pass within"}, "no_fault_found", job={"sheet": "crew"}, says=["Chain off the gangway first."])
whole("a sheet with the test voltage first", "HB-CP 40", {}, {}, "", job={"sheet": "backwards"}, refused=["backwards"])
whole("a sheet above max_test_v", "HB-CP 44", {}, {}, "", job={"sheet": "high"}, refused=["at most 500 V"])
whole("a sheet with a test voltage on electronics", "HB-CP 45", {}, {}, "", job={"sheet": "crew"}, refused=["electronics"])
whole("a sheet that parts leads which must be joined", "HB-CP 48", {}, {}, "", job={"sheet": "leads"}, refused=["leads joined"])

# Baselines: the same asset, the same place. 43.00 is 4.9 % above 41.00; U of the difference is
# √2 × 1.59 % for 3.5 K either way at 25 °C and 0.34 of two readings: 0.98.

warm = {"temperature": "25C"}
first = {INSULATION: {"skip": "another day"}}
whole("changed: a winding that moved by 5 %", "HB-CP 40", {"winding main": "43.30", **first}, {"winding main": want("pass changed", "was 41")}, "incomplete", job=warm, before=lambda hand: hand.earlier(winding_main=["41.30"]))
whole("changed: a winding that moved by 1 % has not", "HB-CP 40", {"winding main": "41.80", **first}, {"winding main": "pass within"}, "incomplete", job=warm, before=lambda hand: hand.earlier(winding_main=["41.30"]))
whole("changed: a winding out of its limits stays a fault", "HB-CP 40", {"winding main": "45.30", **first}, {"winding main": want("fail high", "was 41")}, "fault_found", job=warm, before=lambda hand: hand.earlier(winding_main=["41.30"]))
# A third of 550 is 183.
whole("changed: another place is not compared", "HB-CP 40", {"winding main": "43.30", **first}, {"winding main": want("pass within", not_words=["was 41"])}, "incomplete", job={**warm, "measured_at": "splice", "ground_reference": "frame"}, before=lambda hand: hand.earlier({"measured_at": "motor"}, winding_main=["41.30"]))
whole("changed: insulation below a third", "HB-CP 40", {INSULATION: megs("150 M", elapsed=5)}, {INSULATION: want("pass changed", "550")}, "no_fault_found", job=warm, before=lambda hand: hand.earlier(insulation_all_to_ground=[megs("550 M", elapsed=5)]))
whole("changed: insulation above a third", "HB-CP 40", {INSULATION: megs("190 M", elapsed=5)}, {INSULATION: "pass within"}, "no_fault_found", job=warm, before=lambda hand: hand.earlier(insulation_all_to_ground=[megs("550 M", elapsed=5)]))

# Streamed: what was typed above comes over a wire and is judged alike (rule 21), and what only a wire can show.


def streamed(title, motor, see, expect, outcome, **more):
    whole(title, motor, see, expect, outcome, streamed=True, daemon="wire", **more)


def typed(*shown):
    return [{"shown": s} for s in shown]


# What a job needs besides the point at hand, typed to be quick.
BESIDE = {key: typed(*takes) for key, takes in {**{k: v for k, v in USUAL.items() if k != INSULATION}, "winding main": ["41.30"]}.items()}
TESTER = {"leads before of the tester": typed("0.00 M"), "leads after of the tester": typed("0.00 M")}


def held(ohms, volts=512, **more):
    return {"press": ohms, "volts": volts, **more}


streamed("rule 21: a three-wire motor over the wire", "HB-WP 22", {**TESTER, INSULATION: held("550 MOhm")},
         {"winding main": want("pass within", judged=2.0, method="steady"), "winding set": want("pass within", judged=0.0), GROUND: "pass no_fault_seen", INSULATION: want("pass within", judged=550e6, u=u(550e6, 1e6, 5, 3), method="timed", volts=512), "leads after": "pass within"}, "no_fault_found", not_end=["DO NOT ENERGIZE"])
streamed("rule 21: the start winding is open over the wire", "HB-WP 22", {**TESTER, "winding start": "OL", "winding total": "OL", INSULATION: held("550 MOhm")}, {"winding start": want("fail open", event="open"), "winding set": "fail open"}, "fault_found")
streamed("rule 1: over-range over the wire", "HB-CP 40", {**BESIDE, "leads after": "0.30", GROUND: "OL", "contact ground all_to_ground": "41.30", INSULATION: held(">20.0 GOhm")},
         {GROUND: [want("undecided leads_unproven", event="open"), want("pass no_fault_seen", of_first=True)], INSULATION: [want("undecided leads_unproven", event="over_range"), want("pass above_range", "attested", of_first=True)]}, "no_fault_found")


def silent(hand):
    hand.meters[f"o{hand.bench}"].shown = None
    gap_of(hand, lambda: setattr(hand.meters[f"o{hand.bench}"], "shown", "OL"))


def gone(hand):
    hand.meters[f"o{hand.bench}"].away()
    gap_of(hand, hand.meters[f"o{hand.bench}"].back)


def gap_of(hand, back):
    sleep(12.0)
    back()
    hand.view(lambda j: j["ask"]["test"] == "leads", 8.0, "the leads to be asked for after a gap")


for title, gap in (("silent", silent), ("gone", gone)):
    streamed(f"rule 2: an ohmmeter that was {title} for 12 s is proven again", "HB-CP 40", {**BESIDE, "ground_path path": [gap, *typed("0.50")], INSULATION: held("550 MOhm")}, {"leads before": ["pass within", "pass within"]}, "no_fault_found")


def pressed_though_forbidden(hand):
    tester = hand.meters[f"t{hand.bench}"]
    tester.press("550 MOhm", 512)
    sleep(1.5)
    tester.shown = ""
    sleep(0.5)


def not_stopped(shown):
    def on(hand):
        meter = hand.meters[f"o{hand.bench}"]
        meter.shown = shown
        sleep(5.0)
        if hand.view()["ask"]["test"] != "winding":
            raise ValueError(f"stopped at {shown}")
        meter.shown = "OL"
        sleep(1.6)

    return on


streamed("rule 14: a press on electronics", "HB-CP 45", {**BESIDE, GROUND: [pressed_though_forbidden, *typed("60.0 M")]}, {INSULATION: want("not_judged test_forbidden", "release now; electronics may be damaged", volts=512)}, "undecided")
streamed("rule 15: the tester stands on another step", "HB-CP 40", {**BESIDE, INSULATION: held("550 MOhm", 1020)}, {INSULATION: want("not_judged wrong_test_voltage", "500 V planned", volts=1020)}, "incomplete", end=["DO NOT ENERGIZE"])
streamed("rule 15: a tester that sends no voltage", "HB-CP 40", {**BESIDE, INSULATION: held("550 MOhm")}, {INSULATION: want("pass within", "voltage not measured")}, "no_fault_found", tester={"protocol": '"text-line"'}, line=("{}",))
streamed("rule 15: no reading within 2 s of the mark", "HB-CP 40", {**BESIDE, INSULATION: [held(lambda s: None if 8 < s < 14 else "550 MOhm", release=15.0), held("550 MOhm")]}, {INSULATION: "pass within"}, "no_fault_found", reasons=["within 2 s of the mark", "under voltage for (2[4-9]|3[0-2]) s"])
streamed("rule 16: less than 3 V is nothing", "HB-CP 40", {**BESIDE, "winding main": [not_stopped("2.9 VAC"), *typed("41.30")], INSULATION: held("550 MOhm")}, {"winding main": want("pass within")}, "no_fault_found")
streamed("rule 15: a tester that is pulled down by a wet winding", "HB-CP 40", {**BESIDE, INSULATION: held("0.15 MOhm", 200)}, {INSULATION: want("fail below_minimum", "the tester cannot hold its voltage")}, "fault_found", banners=["DO NOT ENERGIZE"])
streamed("rule 15: a tester that is pulled down and reads enough", "HB-CP 40", {**BESIDE, INSULATION: held("20.0 MOhm", 400)}, {INSULATION: "undecided unstable"}, "undecided")
streamed("rule 17: a press that was let go counts too", "HB-CP 40", {**BESIDE, INSULATION: [held("550 MOhm", release=4.0), held("550 MOhm")]}, {INSULATION: "pass within"}, "no_fault_found", reasons=["under voltage for 1[4-7] s: keep it shorted for (5[6-9]|6[0-8]) s"])


def voltage(shown, *says):
    def on(hand):
        meter = hand.meters[f"o{hand.bench}"]
        meter.shown = shown
        stop = hand.view(lambda j: "Stop" in j["ask"]["say"], 8.0, f"a stop at {shown}")
        if "VOLTAGE ON THE CLIPS" not in " ".join(stop["banners"]):
            raise ValueError(f"no banner of voltage: {stop['banners']}")
        meter.shown = "OL"
        hand.view(lambda j: "Stop" not in j["ask"]["say"], 8.0, "the stop to end 3 s below")

    return on


DANGER = "DANGER, this voltage can kill"
for shown, hazard in (("30.0 VAC", True), ("12.0 VAC", False), ("40.0 VDC", False), ("65.0 VDC", True)):
    row = want("undecided voltage_present", *([DANGER] if hazard else []), not_words=[] if hazard else [DANGER], unit="volt")
    streamed(f"rule 16: {shown} on the clips", "HB-CP 40", {**BESIDE, "winding main": [voltage(shown), *typed("41.30")], INSULATION: held("550 MOhm")}, {"winding main": [row, want("pass within")]}, "no_fault_found")


def not_taken(shown):
    def show(hand):
        hand.meters[f"o{hand.bench}"].shown = shown
        seen = hand.view()["points"]
        sleep(5.0)
        if hand.view()["points"] != seen:
            raise ValueError(f"{shown} was taken")

    return show


flags = {"ohms": {"protocol": '"flags-line"'}, "suffix": ";-", "no_says": ["Open the clips of o"]}
for shown in ("41.30 Ohm;HOLD", "41.30 Ohm;MAX"):
    streamed(f"rule 19: {shown} is not taken", "HB-CP 40", {**BESIDE, "winding main": [not_taken(shown), "41.30 Ohm"], INSULATION: held("550 MOhm")}, {"winding main": [want("pass within", judged=41.0)]}, "no_fault_found", **flags)
streamed("rule 4: a meter in relative subtracts by itself", "HB-CP 40", {**BESIDE, "winding main": "41.00 Ohm;REL", INSULATION: held("550 MOhm")}, {"winding main": want("pass within", judged=41.0, leads=None)}, "no_fault_found", **flags)
streamed("rule 4: leads joined in relative prove nothing", "HB-CP 40", {**BESIDE, "leads before": ["0.00 Ohm;REL", "0.30 Ohm"], INSULATION: {"skip": "no time"}}, {"leads before": ["undecided null_suspect", "pass within"]}, "incomplete", **flags)
streamed("rule 19: a tester with a low battery", "HB-CP 40", {**BESIDE, INSULATION: held("550 MOhm")}, {INSULATION: want("undecided unstable", "battery")}, "undecided", tester={"protocol": '"megs-flags"'}, line=("{};{} V;{:.1f} s;BATT",))

# 100 MΩ at 30 s and 140 at 60 s: 1.4.
for late, number in (("140 MOhm", 1.4), ("90 MOhm", 0.9)):
    streamed(f"ratio: dar of {number}", "HB-CP 40", {**BESIDE, INSULATION: held(lambda s, late=late: "100 MOhm" if s < 45 else late, release=63.0)}, {INSULATION: "pass within", "ratio dar": want("not_judged " if number > 1 else "undecided below_minimum", value=number, unit="ratio")}, "no_fault_found" if number > 1 else "undecided", job={"sheet": "dar"})
