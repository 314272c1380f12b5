//! What repeated measurements say.

/// Least, median and greatest of some times.
pub struct Spread {
    pub least: f64,
    pub median: f64,
    pub greatest: f64,
}

impl Spread {
    pub fn of(mut times: Vec<f64>) -> Spread {
        times.sort_by(f64::total_cmp);
        Spread {
            least: times[0],
            median: times[times.len() / 2],
            greatest: times[times.len() - 1],
        }
    }
}
