"""Examples: what a person would type, under the help of each command; a test runs what needs no instrument."""

EXAMPLES: dict[str, tuple[str, ...]] = {
    "demo": ("holdzero demo", "holdzero demo --once --folder try-it"),
    "study": (
        "holdzero study readings.csv",
        "holdzero study readings.csv --machine machine.toml",
        'holdzero study readings.csv --resolution "0.001 mm" --json',
    ),
    "choose": (
        "holdzero choose --machine machine.toml --sensors sensors.toml readings.csv",
        "holdzero choose demo.holdzero --axis Y",
        'holdzero choose demo.holdzero --take K --because "fits the bracket we have"',
    ),
    "standing": (
        "holdzero standing demo.holdzero",
        "holdzero standing machine.toml readings.csv --sensors sensors.toml --wiring wiring.toml",
    ),
    "machine": ("holdzero machine", "holdzero machine belt-axis"),
    "keys": ("holdzero keys", "holdzero keys delay"),
    "wiring": ("holdzero wiring wiring.toml", "holdzero wiring wiring.toml --svg wiring.svg"),
    "travel": (
        "holdzero travel machine.toml --wiring wiring.toml",
        'holdzero travel demo.holdzero --axis Y --from "200 mm"',
    ),
    "plan": (
        "holdzero plan demo.holdzero",
        'holdzero plan --minutes "60 min"',
        "holdzero plan --machine machine.toml --sensors sensors.toml --sheet sheet.html",
    ),
    "budget": (
        "holdzero budget demo.holdzero",
        "holdzero budget machine.toml --sensors sensors.toml --sensor K",
    ),
    "sweep": ("holdzero sweep variants.toml", "holdzero sweep variants.toml --workers 2 --json"),
    "square": ("holdzero square measured.toml", "holdzero square measured.toml --units inch"),
    "install": (
        "holdzero install demo.holdzero",
        "holdzero install machine.toml --sensors sensors.toml --sensor K --wiring wiring.toml",
    ),
    "record": (
        "holdzero record demo.holdzero -o record.html",
        "holdzero record --machine machine.toml --sensors sensors.toml readings.csv -o record.html",
        "holdzero record --verify record.html",
    ),
    "log": (
        'holdzero log demo.holdzero --left 0.004 --right "-2 um" --temperature 17',
        'holdzero log demo.holdzero --event "bracket touched"',
        'holdzero log demo.holdzero log.csv --machine "Plywood router"',
        "holdzero log demo.holdzero",
    ),
    "watch": ("holdzero watch log.csv --machine machine.toml", 'holdzero watch log.csv --nuisance "1 in 1000"'),
    "fleet": ("holdzero fleet log.csv --machine machine.toml", "holdzero fleet log.csv --json"),
    "listen": (
        "holdzero listen",
        "holdzero listen /dev/ttyUSB0 --try",
        "holdzero listen COM3 --book workshop.holdzero",
    ),
    "capture": (
        "holdzero capture run.vcd --map map.toml",
        "holdzero capture run.vcd --map map.toml --readings trips.csv --sensor K --axis Y",
    ),
    "tally": (
        "holdzero tally /dev/ttyUSB0 --readings run.csv --try",
        'holdzero tally COM3 --readings run.csv --count "0.01 mm" --pattern "trip {value}" --sensor K --axis Y',
    ),
    "import": (
        "holdzero import readings.csv",
        "holdzero import readings.csv --book demo.holdzero --trial again --again",
        "holdzero import - --unit um",
    ),
    "book": (
        "holdzero book write demo.holdzero files",
        "holdzero book add shed.holdzero files",
        "holdzero book add shed.holdzero machine.toml sensors.toml readings.csv",
        "holdzero book check demo.holdzero",
        "holdzero book backup demo.holdzero copy.holdzero",
        "holdzero book homings demo.holdzero homings.xlsx",
        "holdzero book trail demo.holdzero",
    ),
    "open": (
        "holdzero open",
        "holdzero open demo.holdzero --no-browser --port 8047",
        "holdzero open --phone 192.168.1.20",
        "holdzero open club.holdzero --listen 192.168.1.20 --certificate shed.pem --key shed.key",
    ),
    "people": ("holdzero people demo.holdzero",),
    "manual": ("holdzero manual --list", "holdzero manual wiring --no-browser --folder manual"),
    "where": ("holdzero where", "holdzero where --keep units=inch", "holdzero where --keep book=demo.holdzero"),
}
