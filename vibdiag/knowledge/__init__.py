"""The rule base: files a technician can read aloud, checked and made ready for the reasoning."""
