"""Two people on one case: what differs between two versions, and how two changes become one; pure, and no storage."""
