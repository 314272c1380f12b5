//! Work on pieces by several threads, results in the order of the pieces.

use std::sync::mpsc::{Receiver, SyncSender, sync_channel};

/// Pieces that a thread may have waiting or made, so that it never stands still while this one
/// reads or writes.
const AHEAD: usize = 2;

/// What pieces come from, what is made of them, and where that goes.
pub(super) struct Line<N, M, T> {
    /// The next piece; none at the end.
    pub(super) next: N,
    /// Makes ready what a thread needs, and works on a piece with it.
    pub(super) make: M,
    /// Takes what was made, in the order of the pieces.
    pub(super) take: T,
}

impl<N, M, T> Line<N, M, T> {
    /// Runs until the pieces end or something fails. What comes of it does not depend on
    /// `threads`.
    pub(super) fn run<Piece, Made, Maker, Error>(mut self, threads: usize) -> Result<(), Error>
    where
        N: FnMut() -> Result<Option<Piece>, Error>,
        M: Fn() -> Maker + Sync,
        Maker: FnMut(Piece) -> Made,
        T: FnMut(Made) -> Result<(), Error>,
        Piece: Send,
        Made: Send,
    {
        if threads <= 1 {
            let mut make = (self.make)();
            while let Some(piece) = (self.next)()? {
                (self.take)(make(piece))?;
            }
            return Ok(());
        }
        let maker = &self.make;
        std::thread::scope(|scope| {
            let mut ways = Vec::with_capacity(threads);
            for _ in 0..threads {
                let (to, pieces) = sync_channel::<Piece>(AHEAD);
                let (made, from) = sync_channel::<Made>(AHEAD);
                scope.spawn(move || work(maker(), &pieces, &made));
                ways.push((to, from));
            }
            // Pieces go round, so that their results come round in the same order.
            let (mut sent, mut taken, mut is_at_end) = (0, 0, false);
            loop {
                while !is_at_end && sent < taken + threads * AHEAD {
                    match (self.next)()? {
                        None => is_at_end = true,
                        Some(piece) => {
                            if ways[sent % threads].0.send(piece).is_err() {
                                return Ok(());
                            }
                            sent += 1;
                        }
                    }
                }
                if taken == sent {
                    return Ok(());
                }
                // A thread that is gone has panicked: the scope passes that on.
                let Ok(made) = ways[taken % threads].1.recv() else {
                    return Ok(());
                };
                (self.take)(made)?;
                taken += 1;
            }
        })
    }
}

fn work<Piece, Made>(
    mut make: impl FnMut(Piece) -> Made,
    pieces: &Receiver<Piece>,
    made: &SyncSender<Made>,
) {
    while let Ok(piece) = pieces.recv() {
        if made.send(make(piece)).is_err() {
            return;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn squares(threads: usize, fail_at: usize) -> (Vec<usize>, Result<(), String>) {
        let (mut at, mut seen) = (0, Vec::new());
        let line = Line {
            next: || {
                at += 1;
                Ok((at <= 100).then_some(at))
            },
            make: || {
                |n: usize| {
                    // Some pieces take longer than others.
                    std::thread::sleep(std::time::Duration::from_micros((n % 7) as u64 * 50));
                    n * n
                }
            },
            take: |n: usize| {
                if n == fail_at {
                    return Err(format!("{n} is refused"));
                }
                seen.push(n);
                Ok(())
            },
        };
        let result = line.run(threads);
        (seen, result)
    }

    #[test]
    fn results_come_in_order_whatever_the_number_of_threads() {
        let expected: Vec<usize> = (1..=100).map(|n| n * n).collect();
        for threads in [1, 2, 5] {
            assert_eq!(squares(threads, 0), (expected.clone(), Ok(())));
        }
    }

    #[test]
    fn a_failure_ends_the_work() {
        for threads in [1, 3] {
            let (seen, result) = squares(threads, 25);
            assert_eq!(seen, [1, 4, 9, 16]);
            assert_eq!(result, Err("25 is refused".into()));
        }
    }
}
