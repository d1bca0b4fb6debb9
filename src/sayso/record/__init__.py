"""Journal, resume, verify, job report, export, shop database and delivery.
Never decides what happens next in a job."""
