//! Timing shared by the benches: contenders take turns in one process, medians are compared.

use std::time::Instant;

/// What `--assert` grants beyond a promise: shared machines are noisy. The printed verdict grants nothing.
const SLACK: f64 = 1.25;

/// One run of a bench program.
pub(crate) struct Bench {
    asserting: bool,
    failed: usize,
    checks: usize,
}

impl Bench {
    /// Reads the command line: `--assert` checks promises, anything else is left to cargo.
    pub(crate) fn from_arguments() -> Self {
        Self { asserting: std::env::args().any(|argument| argument == "--assert"), failed: 0, checks: 0 }
    }

    /// Runs the jobs in turn so many times after a warm-up; gives the median seconds of each. A job says whether its
    /// answer still holds.
    pub(crate) fn interleave(&mut self, jobs: &mut [(&str, &mut dyn FnMut() -> bool)], rounds: usize) -> Vec<f64> {
        let mut times = vec![Vec::with_capacity(rounds); jobs.len()];
        for round in 0..rounds + rounds / 10 + 1 {
            for (job, times) in jobs.iter_mut().zip(&mut times) {
                let start = Instant::now();
                let holds = (job.1)();
                let elapsed = start.elapsed().as_secs_f64();
                assert!(holds, "{}: the answer no longer holds", job.0);
                if round > rounds / 10 {
                    times.push(elapsed);
                }
            }
        }
        let medians: Vec<f64> = times
            .into_iter()
            .map(|mut list| {
                list.sort_unstable_by(f64::total_cmp);
                list[list.len() / 2]
            })
            .collect();
        for (job, median) in jobs.iter().zip(&medians) {
            println!("{:<64} {:>12.3} us", job.0, median * 1e6);
        }
        medians
    }

    /// Prints a figure that is watched, not promised.
    pub(crate) fn report(&mut self, name: &str, figure: f64) {
        println!("{name:<64} {figure:>12.2}");
    }

    /// Prints a figure that must not be larger.
    pub(crate) fn at_most(&mut self, name: &str, figure: f64, bound: f64) {
        self.checks += 1;
        let holds = figure <= bound;
        self.failed += usize::from(figure > bound * SLACK);
        println!("{name:<64} {figure:>12.2} (at most {bound}) {}", if holds { "holds" } else { "BROKEN" });
    }

    /// Ends the program; in assert mode a broken promise is a failure.
    pub(crate) fn finish(self) {
        println!("{} passed, {} failed", self.checks - self.failed, self.failed);
        if self.asserting && self.failed > 0 {
            std::process::exit(1);
        }
    }
}
