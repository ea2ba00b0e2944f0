"""Hunt: where to look for the cause of a pattern, likeliest first, and the check that tells causes apart.

The order is common practice, no source: what moves least often is looked at last. Along the drive it is motor,
coupling, screw, nut, carriage, bracket, flag, sensor; a witness mark across each joint shows the one that gives.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Hunt:
    """Likely causes, likeliest first, and the check that tells them apart."""

    causes: tuple[str, ...]
    check: str


WARMTH = Hunt(
    causes=(
        "sensor electronics warming up after power-up",
        "motors and screw warming up: the way from sensor to datum grows",
        "the indicator or its stand settling after it was set up",
    ),
    check=(
        "Leave everything switched on for half an hour and take a set without switching off: if it starts level, "
        "it was warmth. Read the indicator ten times without homing: if that wanders too, it is the stand."
    ),
)
DRIFT = Hunt(
    causes=(
        "temperature of the room or the machine still changing",
        "something working loose: bracket, flag, coupling or nut",
        "chips or dust building up on the flag or the sensor's face",
    ),
    check=(
        "Log the temperature beside each homing: a wander that follows it is growth. Put witness marks across "
        "every joint from motor to sensor and repeat: the mark that parts is the place."
    ),
)
STEP = Hunt(
    causes=(
        "a bracket, flag or sensor moved or was knocked",
        "a coupling, pulley or nut slipped on its shaft",
        "the indicator or its stand was touched",
    ),
    check=(
        "Put witness marks across each joint along the drive: motor, coupling, screw, nut, carriage, bracket, "
        "flag, sensor. All marks whole, and readings without homing step too: it was the indicator."
    ),
)
ODD_SHAPE = Hunt(
    causes=(
        "now and then another event on top of the scatter: noise, a missed poll, a chip",
        "readings that stand in steps or in two places",
        "speed or direction changed during the trial",
    ),
    check=(
        "Look at the normal probability plot: ends that bend away are rare events, a staircase is a grid of "
        "steps, two straight pieces are two places."
    ),
)
OUTLYING = Hunt(
    causes=(
        "noise on the sensor's line, or a contact that bounced",
        "a chip or a drop between flag and sensor",
        "lost steps: the drive slipped, not the sensor",
        "a slip in reading or typing",
    ),
    check=(
        "Go back to the old zero without homing and read: still right, the sensor was wrong; off as well, the "
        "drive lost steps. Count trips with the spindle off, then on: more when on is noise."
    ),
)
WHOLE_TURN = Hunt(
    causes=(
        "the switch trips close to the edge of the index, so that now and then the next one is taken",
        "a coupling slipped by part of a turn and was caught by the index",
        "the flag or the switch moved by about one pitch",
    ),
    check=(
        "Log the way from trip to index at every homing: if it comes near nothing or near a whole pitch, shift "
        "the flag by half a pitch. A witness mark across the coupling shows a slip."
    ),
)
MOTOR_TURN = Hunt(
    causes=(
        "a coupling, pulley or nut slipped and caught again after one turn",
        "zero is taken once a turn, and the switch trips near the border of two turns",
        "the count of turns was lost while the power was off",
    ),
    check=(
        "Put a witness mark across coupling and pulley: a mark that parts is a slip. Marks whole: shift the flag "
        "by half a turn, home ten times and see whether it goes."
    ),
)
BELT_TOOTH = Hunt(
    causes=(
        "the belt jumped a tooth on its pulley: too slack, too heavy a load, or too few teeth in mesh",
        "a chip or a worn tooth lifted the belt off the pulley",
        "the flag or the switch moved by about one tooth",
    ),
    check=(
        "Mark belt and pulley with one line across both and home ten times: a line that parts is a jump. Then "
        "tension the belt, clean it and look at its teeth."
    ),
)
SCREW_TURN = Hunt(
    causes=(
        "the belt or gear between motor and screw slipped and caught again after one turn of the screw",
        "zero is taken once a turn of the screw, and the switch trips near the border of two turns",
        "the nut slipped in its housing and caught again",
    ),
    check=(
        "Put a witness mark across motor, screw and nut: the mark that parts is where it slips. Marks whole: "
        "shift the flag by half a turn of the screw, home ten times and see whether it goes."
    ),
)
WHOLE_CYCLE = Hunt(
    causes=(
        "the motor jumped to the next electrical cycle (four full steps) when its power came on",
        "lost steps: too fast, too heavy or too little current; steps are lost in whole cycles",
        "the zero is taken by motor angle, and the switch trips near the border of two cycles",
    ),
    check=(
        "Switch off and on ten times without moving and read: a jump is the motor finding its angle. Home at half "
        "the speed and acceleration: fewer jumps are lost steps."
    ),
)
FULL_STEP = Hunt(
    causes=(
        "the motor stops or powers up on full steps: microsteps not held, or current reduced at rest",
        "friction larger than a microstep can pull: the axis moves when a full step's force has built up",
        "the controller takes the position where the axis rests, not where the switch tripped",
    ),
    check=(
        "Move by single microsteps from rest and read: nothing, nothing, then a full step is friction or lost "
        "microsteps. Put a witness mark on the coupling to rule out that it winds up and lets go."
    ),
)
MICROSTEP = Hunt(
    causes=("the drive can only rest on its microsteps: this is as fine as it gets",),
    check="Nothing to do unless the step is large beside the spread allowed; then a finer drive or a finer lead.",
)
TWO_PLACES = Hunt(
    causes=(
        "two homings apart by one index pitch, one electrical cycle or one tooth",
        "backlash taken up in some homings and not in others",
        "a flag, bracket or carriage that rocks between two seats",
        "two edges of the flag or two targets, or two start positions",
    ),
    check=(
        "Compare the gap with the pitch of the index, four full steps and the belt's tooth. Always start from the "
        "same side: if one place goes, it was backlash. Drives off, push flag and carriage by hand: a click is a "
        "seat."
    ),
)
ALTERNATION = Hunt(
    causes=(
        "homings started from two places or two sides in turn",
        "backlash or a belt tooth taken up every second time",
        "two people, two hands or two buttons reading in turn",
    ),
    check="Start every homing from the same place and side: if the alternation goes, it was the approach.",
)
SPEED_JITTER = Hunt(
    causes=(
        "the input is polled, and the poll comes sooner or later",
        "an input filter or the sensor's own switching time varies",
        "noise on the line makes the filter wait",
    ),
    check="Home at half the creep speed: scatter that halves is time. Then shorten the filter or poll faster.",
)
DELAY = Hunt(
    causes=(
        "the sensor's switching time",
        "an input filter or a polled input",
        "a cable and pull-up that charge slowly",
    ),
    check="A delay that stays the same does no harm as long as every homing creeps at the same speed.",
)
LATE = Hunt(
    causes=(
        "a poll or an interrupt was missed",
        "an input filter started again because the signal was noisy",
        "a worn contact that closes late",
    ),
    check=(
        "Record the input with a logic analyser: a clean edge with a late stop is the controller; a ragged edge "
        "is noise or the contact. Creep slower: the same time becomes a shorter way."
    ),
)
GROWTH_BY_WARMTH = Hunt(
    causes=(
        "the frame, screw or bracket grows between sensor and datum",
        "the trip point of the sensor moves with temperature",
    ),
    check=(
        "Multiply the way from sensor to datum by the expansion of its material: if that is the slope, it is the "
        "frame; if not, the sensor."
    ),
)
COARSE = Hunt(
    causes=("the display counts in steps larger than the machine scatters",),
    check="Read with a finer indicator, or take the figures as an upper limit.",
)
UNIT = Hunt(
    causes=(
        "the indicator was switched between inch and mm during the series",
        "readings of two people, or two files, in different units",
    ),
    check="Look at the sheet where the figures change size by 25.4, and correct the unit of one part.",
)
UNEVEN = Hunt(
    causes=(
        "something was loose during that set: bracket, flag, indicator",
        "noise, chips or vibration during that set",
        "speed, acceleration or approach was changed",
    ),
    check="Take that set again the same way. Gone: an event; still there: look at what was different that day.",
)
WANDER = Hunt(
    causes=(
        "temperature going up and down during the set",
        "a stand, flag or chip that creeps and is pushed back",
        "homings so close in time that they share the same friction and warmth",
    ),
    check="Read the indicator without homing over the same time: if that wanders, it is the stand.",
)
