//! Blocks of draws, carried out.

use super::plan::{Input, Plan};
use super::{BATCH, WIDTH};
use crate::formula::simd::{Job, widest};
use crate::formula::{Lanes, Status};
use crate::sheet::Block;
use crate::uncertainty::draws::{Draw, Shape, Stream};

/// The stream that distributions of correlated causes are drawn from, which no cause has.
const POOLED: u32 = u32::MAX;

/// Room for the draws of a block; one for each thread.
pub(super) struct Room {
    errors: Vec<[f64; WIDTH]>,
    independent: Vec<[f64; WIDTH]>,
    pools: Vec<[f64; WIDTH]>,
    blocks: Vec<Block<WIDTH>>,
    made: Vec<Lanes<WIDTH>>,
}

impl Plan {
    pub(super) fn room(&self) -> Room {
        let mut blocks: Vec<Block<WIDTH>> = self.stages.iter().map(|s| s.program.block()).collect();
        for (stage, block) in self.stages.iter().zip(&mut blocks) {
            for (at, input) in stage.inputs.iter().enumerate() {
                if let Input::Same(lane) | Input::Drawn(lane, _) = input {
                    *stage.program.input(block, at) = Lanes::all(*lane);
                }
            }
        }
        Room {
            errors: vec![[0.0; WIDTH]; self.drawn.len()],
            independent: vec![[0.0; WIDTH]; self.correlated.len()],
            pools: vec![[0.0; WIDTH]; self.pools.len()],
            blocks,
            made: vec![Lanes::MISSING; self.stages.len()],
        }
    }

    /// Appends the known values of a batch.
    pub(super) fn batch(&self, batch: usize, room: &mut Room, values: &mut Vec<f64>) {
        for block in batch * BATCH..(batch + 1) * BATCH {
            self.block(block as u32, room, values);
        }
    }

    fn block(&self, number: u32, room: &mut Room, values: &mut Vec<f64>) {
        for (cause, (drawn, out)) in self.drawn.iter().zip(&mut room.errors).enumerate() {
            let stream = Stream {
                seed: self.seed,
                block: number,
                cause: cause as u32,
            };
            widest(Draw {
                stream,
                shape: match drawn.is_tied {
                    true => Shape::Normal,
                    false => drawn.shape,
                },
                out,
            });
        }
        self.correlate(room);
        self.put_in_order(number, room);
        for (at, (stage, block)) in self.stages.iter().zip(&mut room.blocks).enumerate() {
            for (input, kind) in stage.inputs.iter().enumerate() {
                let lanes = stage.program.input(block, input);
                match kind {
                    Input::Same(_) => {}
                    Input::Drawn(lane, cause) => {
                        let values = &mut lanes.values;
                        self.disturb(*cause, &room.errors, Some(lane.value), values);
                    }
                    Input::Made(stage) => *lanes = room.made[*stage],
                }
            }
            stage.program.run_filled(block);
            let Some(slot) = stage.slot else {
                continue;
            };
            let lanes = block.lanes(slot);
            if at + 1 == self.stages.len() {
                take_known(lanes, values);
                return;
            }
            room.made[at] = *lanes;
            if let Some(cause) = stage.own {
                self.disturb(cause, &room.errors, None, &mut room.made[at].values);
            }
        }
    }

    /// Turns independent normals of the correlated causes into correlated ones.
    fn correlate(&self, room: &mut Room) {
        for ((at, _), copy) in self.correlated.iter().zip(&mut room.independent) {
            *copy = room.errors[*at];
        }
        for (at, row) in &self.correlated {
            for (i, out) in room.errors[*at].iter_mut().enumerate() {
                let pairs = row.iter().zip(&room.independent);
                *out = pairs.map(|(f, z)| f * z[i]).sum();
            }
        }
    }

    /// Gives correlated causes that are not normal draws of the distributions they stand for, in the
    /// order of their correlated normals (a normal copula): each keeps its own distribution. Draws
    /// come with both signs, as all these distributions are symmetric, and those of like
    /// distributions are the same, so that errors that are one cancel as they should.
    fn put_in_order(&self, block: u32, room: &mut Room) {
        for (shape, pool) in self.pools.iter().zip(&mut room.pools) {
            widest(Draw {
                stream: Stream {
                    seed: self.seed,
                    block,
                    cause: POOLED,
                },
                shape: *shape,
                out: pool,
            });
            let (drawn, mirrored) = pool.split_at_mut(WIDTH / 2);
            for (mirrored, drawn) in mirrored.iter_mut().zip(drawn) {
                *mirrored = -*drawn;
            }
            pool.sort_unstable_by(f64::total_cmp);
        }
        let mut order: [usize; WIDTH] = std::array::from_fn(|i| i);
        for (cause, pool) in &self.ranked {
            let errors = &mut room.errors[*cause];
            order.sort_unstable_by(|a, b| errors[*a].total_cmp(&errors[*b]));
            for (at, value) in order.iter().zip(&room.pools[*pool]) {
                errors[*at] = *value;
            }
        }
    }

    /// Adds the errors of a cause to what stands there, or to the same number everywhere.
    fn disturb(
        &self,
        cause: usize,
        errors: &[[f64; WIDTH]],
        same: Option<f64>,
        out: &mut [f64; WIDTH],
    ) {
        widest(Disturbing {
            errors: &errors[cause],
            standard: self.drawn[cause].standard,
            same,
            out,
        });
    }
}

struct Disturbing<'a> {
    errors: &'a [f64; WIDTH],
    standard: f64,
    same: Option<f64>,
    out: &'a mut [f64; WIDTH],
}

impl Job for Disturbing<'_> {
    #[inline(always)]
    fn run(self) {
        let errors = self.out.iter_mut().zip(self.errors);
        match self.same {
            Some(same) => errors.for_each(|(out, error)| *out = same + self.standard * error),
            None => errors.for_each(|(out, error)| *out += self.standard * error),
        }
    }
}

fn take_known(lanes: &Lanes<WIDTH>, values: &mut Vec<f64>) {
    if lanes.states.iter().all(|s| Status(*s).is_known()) {
        values.extend_from_slice(&lanes.values);
        return;
    }
    let lanes = (0..WIDTH).map(|i| lanes.lane(i));
    values.extend(lanes.filter(|l| l.status.is_known()).map(|l| l.value));
}
