"""The arithmetic of recordings knows no case, file or screen, and does not import the slow parts of scipy up front."""

import subprocess
import sys


def test_importing_the_arithmetic_brings_in_nothing_slow_or_foreign() -> None:
    program = (
        "import sys, vibdiag.recording.analyse, vibdiag.recording.compare, vibdiag.recording.car_model;"
        "print(' '.join(sorted(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", program], check=True, capture_output=True, text=True)
    loaded = done.stdout.split()
    foreign = ("scipy", "pydantic", "yaml", "typer", "textual", "durable_rules_engine")
    assert not [name for name in loaded if name.partition(".")[0] in foreign]
    ours = {name.split(".")[1] for name in loaded if name.startswith("vibdiag.")}
    assert ours == {"recording"}


def test_an_analysis_needs_no_scipy_signal() -> None:
    program = (
        "import sys; from vibdiag.recording.analyse import analyse;"
        "from vibdiag.recording.car_model import Drive, practice_recording;"
        "analyse(practice_recording(1, drive=Drive(seconds=20)).recording);"
        "print('scipy.signal' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", program], check=True, capture_output=True, text=True)
    assert done.stdout.strip() == "False"
