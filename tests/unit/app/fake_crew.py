"""A crew that does nothing by itself: a test says when a job is done, and with what answer."""

from pourwell.app.crew import Job


class FakeCrew:
    """Holds jobs; `do` ends the oldest with an answer."""

    def __init__(self):
        self.jobs, self.asked = [], []

    def answer(self, call, *given):
        """Note what is asked; nobody answers."""
        self.asked.append((call, given))
        return Job("", call, given, then=lambda answer: answer)

    def get_ready(self, call):
        """Note what is loaded."""
        self.asked.append((call, ()))
        return ()

    def work(self, title, call, *given, then):
        """Note the work."""
        job = Job(title, call, given, then=then)
        self.jobs.append(job)
        return job

    def do(self, answer):
        """Do the oldest job that waits: this is its answer."""
        job = next(job for job in self.jobs if not job.over.is_set())
        job.then(answer)
        job.end("done")
        return job

    def forget(self, number):
        """Show a job no more."""
        self.jobs = [job for job in self.jobs if job.number != number]

    def close(self):
        """End all."""
        for job in self.jobs:
            job.stop()
