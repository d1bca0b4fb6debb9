# ruff: noqa: SIM905
"""The words of a workshop answer, in groups.

They get extra weight in the training texts and are always in the lexicon.
"""

from __future__ import annotations

DIGITS = """
zero one two three four five six seven eight nine oh
""".split()
TEENS = """
ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen
""".split()
TENS = """
twenty thirty forty fifty sixty seventy eighty ninety
""".split()
BIG = """
hundred thousand million point and half quarter double triple minus plus dash slash dot comma
""".split()
LETTERS = list("abcdefghijklmnopqrstuvwxyz")
# ITU/ICAO phonetic alphabet, spellings alfa and juliett included
PHONETIC = """
alfa alpha bravo charlie delta echo foxtrot golf hotel india juliett juliet kilo lima mike november
oscar papa quebec romeo sierra tango uniform victor whiskey whisky x-ray xray yankee zulu niner
""".split()
ORDINALS = """
first second third fourth fifth sixth seventh eighth ninth tenth eleventh twelfth thirteenth
fourteenth fifteenth sixteenth seventeenth eighteenth nineteenth twentieth thirtieth
""".split()
MONTHS = """
january february march april may june july august september october november december
""".split()
DAYS = """
monday tuesday wednesday thursday friday saturday sunday today tomorrow yesterday
""".split()
#: What is answered or ordered most: a syllable or two that must not be taken for another. Said more often.
ANSWERS = """
yes no stop go left right on off up down done back repeat skip hold help next undo again why note wait okay
""".split()
# the answers and orders that everything hangs on; these are trained most
CONTROL = """
yes no yeah nope yep yup okay done next back repeat again slower faster hold resume continue stop
wait halt help skip undo note why what how louder quieter cancel confirm confirmed correct wrong
ready clear pass fail passed failed open closed close loose tight left right on off up down go start
enter erase rubout finish finished end begin pause quit menu home previous forward affirmative
negative true false good bad old new high low in out here there now never always more less all none
both neither maybe please thanks sorry hello hey quiet listen speak read record delete save change
set reset test check
""".split()
SHOP = """
red black blue green yellow white orange brown grey gray purple pink violet silver top bottom front
rear side upper lower inner outer inside outside centre center middle short long thick thin heavy
light hot cold warm cool wet dry clean dirty worn cracked bent broken damaged missing leaking leak
burnt corroded rusty rust noisy smooth rough soft hard fast slow full empty charged flat sealed
locked unlocked safe live dead hot connected disconnected removed fitted installed replaced
inspected cleaned greased torqued tightened loosened adjusted tested checked measured marked tagged
isolated discharged grounded earthed bolt bolts nut nuts screw screws washer washers pin plug socket
cable cables wire wires fuse relay switch contactor controller motor battery charger brake brakes
wheel wheels tyre tire hub bearing axle gear gearbox chain belt pump hose pipe valve filter oil
grease coolant water air gas fuel tank seal gasket spring lever pedal handle knob button key lamp
horn alarm sensor meter gauge wrench spanner socket ratchet hammer pliers cutter drill tap die file
saw jack stand lift hoist sling strap hook rope glove gloves goggles mask helmet boot boots torque
voltage current resistance pressure temperature level speed distance weight length width height
depth number serial model revision date time name code bay bench line cell pack module bank terminal
busbar lug crimp solder tape tie clip clamp bracket plate cover lid panel door frame floor seat mast
fork tug truck trolley cart dolly tow hitch label tag tick cross north south east west port
starboard apprentice technician witness lead hand supervisor operator passed refused approved
rejected serviceable unserviceable fair poor excellent minor major critical warning danger caution
notice
""".split()
# short everyday words with a share of their own: what a short answer is made of or confused with
SHORT = """
bed bird cat dog happy house tree wow man woman boy girl car bus book pen cup hat cap bag box ball
bell day night week year sun moon star sky rain snow wind fire earth sea lake hill road street town
shop school work job home room wall roof bed chair table desk door lock key clock watch phone call
word page line song sing dance play game run walk jump sit stand eat drink food bread milk tea meat
fish egg rice salt sugar apple love like hate want need have make take give get put keep let come
see look hear feel think know say tell ask show find lose win buy sell pay cost free rich poor big
small tall wide deep young nice kind mean sad mad glad calm loud sick well ill pain head face eye
ear nose mouth tooth tongue neck arm hand finger leg foot toe skin bone blood heart mind soul life
death war peace law king queen lord son mother father sister brother friend visual follow learn
backward forward marvin sheila zero nine five off on up go
""".split()
AN4_WORDS = """
apostrophe area code census street address enter erase rubout help
""".split()
COMMANDS = [
    "carry on",
    "go back",
    "go on",
    "say again",
    "say that again",
    "repeat that",
    "not done",
    "all done",
    "step done",
    "next step",
    "previous step",
    "start over",
    "stop now",
    "hold on",
    "one moment",
    "that is right",
    "that is wrong",
    "what was that",
    "how far am i",
    "take a note",
    "end note",
    "undo that",
    "read it back",
    "no wait",
    "yes please",
    "not yet",
    "i am ready",
    "slow down",
    "speed up",
    "lock out",
    "all clear",
    "key off",
    "key on",
    "power off",
    "power on",
    "turn left",
    "turn right",
    "switch on",
    "switch off",
    "i don't know",
    "more detail",
    "why is that",
    "what was the torque",
    "say again please",
    "no no",
    "oh no",
    "yes yes",
    "got it",
    "of course",
    "that's right",
    "that's it",
    "carry on please",
    "part number",
    "serial number",
    "stand by",
    "hold it",
    "done it",
    "not fitted",
    "not present",
    "as found",
    "top left",
    "top right",
    "bottom left",
    "bottom right",
    "front left",
    "front right",
    "rear left",
    "rear right",
]
UNITS = [
    "foot pounds",
    "inch pounds",
    "newton metres",
    "newton meters",
    "pound feet",
    "pound inches",
    "volts",
    "amps",
    "ohms",
    "watts",
    "pins",
    "degrees",
    "degrees celsius",
    "millimetres",
    "millimeters",
    "centimetres",
    "inches",
    "feet",
    "metres",
    "kilograms",
    "grams",
    "pounds",
    "bar",
    "p s i",
    "percent",
    "minutes",
    "seconds",
    "hours",
    "millivolts",
    "milliamps",
    "amp hours",
    "kilometres",
    "litres",
    "hertz",
    "kilowatts",
    "turns",
    "clicks",
]


def core() -> list[str]:
    """Every single word above, once."""
    words: list[str] = []
    for group in (
        DIGITS,
        TEENS,
        TENS,
        BIG,
        LETTERS,
        PHONETIC,
        ORDINALS,
        MONTHS,
        DAYS,
        CONTROL,
        SHOP,
        SHORT,
        AN4_WORDS,
        " ".join(COMMANDS + UNITS).split(),
    ):
        words += group
    return list(dict.fromkeys(words))
