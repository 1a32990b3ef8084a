"""One file for each released form of the store; none is ever changed after its release."""
