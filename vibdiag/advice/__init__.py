"""The use cases: from a case to ranked causes, dangers, reasons and the next step."""
