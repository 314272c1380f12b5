//! Work that is done one turn after another, whoever does it.
//!
//! Threads that work on pieces at the same time come here with a ticket each, and are let in in the order in which the tickets
//! were given out. A ticket that is dropped, because its piece failed or its thread panicked, passes its turn: nobody waits for
//! it, and those before it still come first.

use std::collections::BTreeSet;
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};

/// Something that is worked on by turns.
pub(super) struct Turns<T> {
    shared: Arc<Shared<T>>,
    /// Tickets given out.
    given: usize,
}

/// The right to one turn. Who holds several takes them in the order in which they were given out, or waits for himself.
pub(super) struct Ticket<T> {
    shared: Arc<Shared<T>>,
    number: usize,
}

struct Shared<T> {
    state: Mutex<State<T>>,
    moved: Condvar,
}

struct State<T> {
    held: T,
    /// Whose turn it is.
    next: usize,
    /// Tickets that are gone before their turn came.
    gone: BTreeSet<usize>,
}

impl<T> Turns<T> {
    pub(super) fn new(held: T) -> Turns<T> {
        let state = State {
            held,
            next: 0,
            gone: BTreeSet::new(),
        };
        Turns {
            shared: Arc::new(Shared {
                state: Mutex::new(state),
                moved: Condvar::new(),
            }),
            given: 0,
        }
    }

    /// The ticket for the turn after all those before.
    pub(super) fn ticket(&mut self) -> Ticket<T> {
        let number = self.given;
        self.given += 1;
        Ticket {
            shared: self.shared.clone(),
            number,
        }
    }
}

impl<T> Shared<T> {
    /// A thread that panicked within its turn is passed on by whoever runs the threads; the others only have to come to an end.
    fn lock(&self) -> MutexGuard<'_, State<T>> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl<T> Ticket<T> {
    /// Waits until all tickets before have been used or are gone, and works on what is held.
    pub(super) fn take<R>(self, work: impl FnOnce(&mut T) -> R) -> R {
        let is_early = |state: &mut State<T>| state.next != self.number;
        let state = self.shared.moved.wait_while(self.shared.lock(), is_early);
        let mut state = state.unwrap_or_else(PoisonError::into_inner);
        // The lock goes before the ticket does, which ends the turn, even where the work panics.
        work(&mut state.held)
    }
}

impl<T> Drop for Ticket<T> {
    fn drop(&mut self) {
        let mut state = self.shared.lock();
        state.gone.insert(self.number);
        loop {
            let next = state.next;
            if !state.gone.remove(&next) {
                break;
            }
            state.next += 1;
        }
        self.shared.moved.notify_all();
    }
}

#[cfg(test)]
mod tests {
    use std::panic::{AssertUnwindSafe, catch_unwind};
    use std::time::Duration;

    use super::*;
    use crate::cohort::in_order::Line;

    /// Pieces that go through a line of threads: which got a turn, in the order of the turns, and what the line said.
    fn run(threads: usize, pieces: usize, fail_at: usize) -> (Vec<usize>, Result<(), String>) {
        let mut turns = Turns::new(Vec::new());
        let shared = turns.shared.clone();
        let mut at = 0;
        let line = Line {
            next: || {
                at += 1;
                Ok((at <= pieces).then(|| (at, turns.ticket())))
            },
            make: || {
                move |(n, ticket): (usize, Ticket<Vec<usize>>)| {
                    // Later pieces are often ready sooner.
                    std::thread::sleep(Duration::from_micros((n * 5 % 7) as u64 * 40));
                    if n == fail_at {
                        return Err(format!("piece {n} is torn"));
                    }
                    ticket.take(|met| met.push(n));
                    Ok(())
                }
            },
            take: |made| made,
        };
        let result = line.run(threads);
        let met = shared.lock().held.clone();
        (met, result)
    }

    #[test]
    fn turns_come_in_the_order_of_the_tickets_on_any_number_of_threads() {
        let all: Vec<usize> = (1..=200).collect();
        for threads in [1, 2, 5] {
            assert_eq!(run(threads, 200, 0), (all.clone(), Ok(())));
        }
    }

    #[test]
    fn a_piece_that_fails_ends_the_work_and_nobody_waits_for_it() {
        for threads in [1, 2, 5] {
            let (met, result) = run(threads, 200, 50);
            assert_eq!(result, Err("piece 50 is torn".into()));
            // Those before it had their turns; a few behind it may have been at work already.
            let before: Vec<usize> = (1..50).collect();
            assert_eq!(met[..49], before);
            assert!(met.len() < 49 + 4 * threads, "{}", met.len());
        }
    }

    #[test]
    fn a_panic_is_passed_on_and_leaves_nobody_waiting() {
        for (threads, within) in [(1, false), (2, false), (5, true), (3, true)] {
            let mut turns = Turns::new(0);
            let mut at = 0;
            let line = Line {
                next: || {
                    at += 1;
                    Ok::<_, String>((at <= 60).then(|| (at, turns.ticket())))
                },
                make: || {
                    move |(n, ticket): (usize, Ticket<usize>)| {
                        assert!(within || n != 20, "outside of its turn");
                        ticket.take(|met| {
                            assert!(!within || n != 20, "within its turn");
                            *met += 1;
                        });
                    }
                },
                take: |()| Ok(()),
            };
            let ended = catch_unwind(AssertUnwindSafe(|| line.run(threads)));
            assert!(ended.is_err(), "{threads} {within}");
        }
    }

    #[test]
    fn tickets_that_are_gone_pass_their_turns_whenever_they_went() {
        let mut turns = Turns::new(Vec::new());
        let [a, b, c, d, e] = std::array::from_fn(|_| turns.ticket());
        drop(d);
        drop(b);
        a.take(|met| met.push('a'));
        c.take(|met| met.push('c'));
        e.take(|met| met.push('e'));
        assert_eq!(turns.shared.lock().held, ['a', 'c', 'e']);
        assert!(turns.shared.lock().gone.is_empty());
    }
}
