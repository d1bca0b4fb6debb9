"""What is true of the tug in the demo job, for a technician who reads the question.

The job takes all branches that lead on: a lock that is not there, a dead meter, capacitors that are slow, a
missing termination, a wrong wheel size."""

from __future__ import annotations

from tests.journeys.reading_technician import Fact, Whim

FACTS = (
    Fact(r"is your own lock on it|^Locked\?", "no"),
    Fact(r"is your own lock on it|^Locked\?", "yes", after="Fetch your own lock"),
    Fact(r"twelve volt test source|known source", "six volts", r"^six volts"),
    Fact(r"twelve volt test source|known source", "thirteen volts", r"^thirteen\b",
         after="Take another meter"),
    Fact(r"machine side", "thirty volts", r"^thirty\b"),
    Fact(r"B plus to B minus now|link voltage", "seven volts", r"^seven volts"),
    Fact(r"B plus to B minus now|link voltage", "three volts", r"^three volts", after="Check both clips"),
    Fact(r"populated pins|^Pins", "twelve", r"^twelve\b"),
    Fact(r"cables marked|^Marked", "no"),
    Fact(r"serial number|^Controller\?", "hotel kilo three three one four zero six",
         r"^hotel kilo, three three one, four zero six\b"),
    Fact(r"four mounting screws|^Mounting\?", "ninety six inch pounds", r"^ninety six inch pounds"),
    Fact(r"screw of cable|^Cable \w", "two hundred and twelve inch pounds", r"^two hundred and twelve\b"),
    Fact(r"screw of cable U\b|^Cable u", "three hundred inch pounds", r"^three hundred inch pounds"),
    Fact(r"screw of cable U\b|^Cable u", "two hundred and twelve inch pounds", r"^two hundred and twelve\b",
         after="Measure again and give the value"),
    Fact(r"earth strap", "eighty four inch pounds", r"^eighty four inch pounds"),
    Fact(r"two bus pins|bus resistance", "one hundred and twenty ohms", r"^one hundred and twenty\b"),
    Fact(r"two bus pins|bus resistance", "sixty ohms", r"^sixty\b", after="Fit the missing termination"),
    Fact(r"what does the bus show|^Bus fault", "one missing"),
    Fact(r"height of a drive wheel|^Wheel diameter", "four hundred millimetres",
         r"^four hundred millimetres"),
    Fact(r"ratio on the axle plate|^Ratio", "twenty", r"^twenty\b(?! )"),
    Fact(r"speed does the display show|^Speed", "five kilometres per hour", r"^five kilometres"),
    Fact(r"speed does the display show|^Speed", "three point eight kilometres per hour",
         r"^three point eight", after="Enter wheel size and ratio"),
    Fact(r"pull smoothly|beeper sound|brake hold|stop at once|^Check \w", "yes"),
    Fact(r"lead hand must see|hold point|^Name or code", "two seven four six", r"R Tarn"),
)  # fmt: skip

#: Mistakes and habits of a real person, each once: a slip put right at the read-back, one put right in the
#: same breath, a wrong torque that is measured again, a break, and questions about the job.
WHIMS = (
    Whim(r"^Count the populated pins", "fourteen"),
    Whim(r"^Read the serial number", "say again"),
    Whim(r"^Fit cable V", "hold"),
    Whim(r"^Fit cable W", "how far am i"),
    Whim(r"^Fit cable B plus", "what was the mounting"),
    Whim(r"^Read the ratio", "twelve no twenty"),
    Whim(r"^Push the signal plug in", "why"),
    Whim(r"^Lower the tug", "slower"),
)

#: One inch pound in newton metres (NIST SP 811, appendix B: 0.112 984 8). The wrench reads inch pounds; the
#: record keeps newton metres.
INCH_POUND = 0.1129848

#: What the record holds at the end.
ANSWERS: dict[str, object] = {
    "locked": True,
    "known_source": 13,
    "machine_side": 30,
    "link_voltage": 3,
    "pins": 12,
    "marked": False,
    "controller": "HK331406",
    "mounting": 96 * INCH_POUND,
    "cable_u": 212 * INCH_POUND,
    "cable_v": 212 * INCH_POUND,
    "cable_w": 212 * INCH_POUND,
    "cable_b_plus": 212 * INCH_POUND,
    "cable_b_minus": 212 * INCH_POUND,
    "earth_strap": 84 * INCH_POUND,
    "bus_resistance": 60,
    "bus_fault": "missing",
    "wheel_diameter": 400,
    "ratio": 20,
    "speed": 3.8,
    "check_forward": True,
    "check_reverse": True,
    "check_brake": True,
    "check_stop_button": True,
    "checked_by": "R Tarn",
}
