"""The case store: cases in a database, every change an event. Only this package knows SQLAlchemy.

`vibdiag.store.store.open_store` is the door. A folder of case files needs none of this.
"""
