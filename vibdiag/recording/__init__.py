"""Road-test recordings: what an accelerometer and a speed track say about which part shakes the car.

Pure arithmetic: no case, no file, no screen. `signal.py` holds the recording in memory; everything else takes it
and hands back frozen results. scipy is imported where it is used, because it takes half a second.
"""
