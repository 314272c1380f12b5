//! Do two methods, two observers or two readings agree?
//!
//! Two methods: [`agreement`] (Bland-Altman limits), [`agreement_repeated`] when patients contribute several pairs,
//! [`agreement_of_replicates`] when each method repeats on an unchanged patient. Changes: [`concordance`]. Several raters: [`icc`].
//! One method against itself: [`repeatability`], [`repeatability_clustered`] when patients contribute several exams, and [`precision_of_mean`].

mod concordance;
mod icc;
mod limits;
mod repeatability;
mod repeated;
mod replicates;

pub use concordance::{Concordance, Exclusion, concordance};
pub use icc::{Icc, IccForm, MeanSquares, icc};
pub use limits::{
    Agreement, AgreementOptions, Limit, LimitError, PercentageError, Reference, agreement,
};
pub use repeatability::{
    Precision, Repeatability, precision_of_mean, repeatability, repeatability_clustered,
};
pub use repeated::{RepeatedAgreement, agreement_repeated};
pub use replicates::{ReplicateAgreement, agreement_of_replicates};
