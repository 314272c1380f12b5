//! The typed face: formulas whose dimensions the compiler checks.
//!
//! A [`Handle`] is a cell with its dimension in the type. `+ - * /` on handles, formulas and
//! numbers build the same operations that the notation builds; an area plus a length does not
//! compile.
//!
//! ```
//! use semilunar::formula::typed::{Area, Length, PI};
//! use semilunar::sheet::Sheet;
//!
//! let mut sheet = Sheet::new();
//! let diameter = sheet.input::<Length>("cm").unwrap();
//! let area = sheet.define::<Area>(PI / 4.0 * diameter * diameter, "cm2").unwrap();
//! ```

use std::marker::PhantomData;
use std::ops::{Add, Div, Mul, Neg, Sub};

use typenum::{Diff, Integer, N1, N2, N4, P1, P2, P3, Prod, Sum, Z0};

/// Whole exponents for [`TermExt::powi`].
pub mod exponents {
    pub use typenum::{N1, N2, N3, N4, P1, P2, P3, P4};
}

use super::handle::CellId;
use super::op::{At, Binary, Exact, Facet, Formula, Many, Op, Unary};
use crate::quantity::{Dimension, Unit};

/// A dimension as a type: exponents of length, mass, time and plane angle.
pub struct Dim<L, M, T, A>(PhantomData<(L, M, T, A)>);

/// A dimension known to the compiler.
pub trait Dimensioned {
    /// The same dimension as a value.
    const DIMENSION: Dimension;
}

impl<L: Integer, M: Integer, T: Integer, A: Integer> Dimensioned for Dim<L, M, T, A> {
    const DIMENSION: Dimension = Dimension::from_exponents([L::I8, T::I8, M::I8, A::I8, 0, 0, 0]);
}

/// A bare number.
pub type Number = Dim<Z0, Z0, Z0, Z0>;
/// Length.
pub type Length = Dim<P1, Z0, Z0, Z0>;
/// Area.
pub type Area = Dim<P2, Z0, Z0, Z0>;
/// Volume.
pub type Volume = Dim<P3, Z0, Z0, Z0>;
/// Mass.
pub type Mass = Dim<Z0, P1, Z0, Z0>;
/// Time.
pub type Time = Dim<Z0, Z0, P1, Z0>;
/// Rate, per time.
pub type Rate = Dim<Z0, Z0, N1, Z0>;
/// Volume per time.
pub type Flow = Dim<P3, Z0, N1, Z0>;
/// Pressure.
pub type Pressure = Dim<N1, P1, N2, Z0>;
/// Pressure per flow.
pub type Resistance = Dim<N4, P1, N1, Z0>;
/// Energy.
pub type Energy = Dim<P2, P1, N2, Z0>;
/// Plane angle.
pub type Angle = Dim<Z0, Z0, Z0, P1>;

/// The dimension of a product.
pub trait Times<Other> {
    /// The product's dimension.
    type Output;
}

impl<L, M, T, A, L2, M2, T2, A2> Times<Dim<L2, M2, T2, A2>> for Dim<L, M, T, A>
where
    L: Add<L2>,
    M: Add<M2>,
    T: Add<T2>,
    A: Add<A2>,
{
    type Output = Dim<Sum<L, L2>, Sum<M, M2>, Sum<T, T2>, Sum<A, A2>>;
}

/// The dimension of a quotient.
pub trait Per<Other> {
    /// The quotient's dimension.
    type Output;
}

impl<L, M, T, A, L2, M2, T2, A2> Per<Dim<L2, M2, T2, A2>> for Dim<L, M, T, A>
where
    L: Sub<L2>,
    M: Sub<M2>,
    T: Sub<T2>,
    A: Sub<A2>,
{
    type Output = Dim<Diff<L, L2>, Diff<M, M2>, Diff<T, T2>, Diff<A, A2>>;
}

/// The dimension of a whole power.
pub trait Raised<N> {
    /// The power's dimension.
    type Output;
}

impl<L, M, T, A, N> Raised<N> for Dim<L, M, T, A>
where
    L: Mul<N>,
    M: Mul<N>,
    T: Mul<N>,
    A: Mul<N>,
{
    type Output = Dim<Prod<L, N>, Prod<M, N>, Prod<T, N>, Prod<A, N>>;
}

/// Quantities of one dimension, which can be added and compared.
#[diagnostic::on_unimplemented(
    message = "quantities of unlike dimensions are not added, subtracted or chosen between",
    label = "these two quantities have unlike dimensions",
    note = "only like quantities add: an area and a length do not; multiply or divide first"
)]
pub trait SameDimension<Other> {}
#[diagnostic::do_not_recommend]
impl<L, M, T, A> SameDimension<Dim<L, M, T, A>> for Dim<L, M, T, A> {}

/// No dimension at all. With one implementation alone the compiler takes the other dimension for
/// granted and complains of a type; with a second one it says the message above.
enum Nowhere {}
#[diagnostic::do_not_recommend]
impl<L, M, T, A> SameDimension<Nowhere> for Dim<L, M, T, A> {}

/// Being a bare number, which can be an exponent and have a logarithm.
#[diagnostic::on_unimplemented(
    message = "exponentials, logarithms and real powers are of bare numbers, not of quantities with a unit",
    label = "this is no bare number",
    note = "divide by a quantity of the same dimension first, such as `literal::<Length>(1.0, \"cm\")?`"
)]
pub trait BareNumber {}
#[diagnostic::do_not_recommend]
impl BareNumber for Number {}

/// A cell with its dimension in the type.
pub struct Handle<D> {
    cell: CellId,
    dimension: PhantomData<fn() -> D>,
}

impl<D> Clone for Handle<D> {
    fn clone(&self) -> Self {
        *self
    }
}
impl<D> Copy for Handle<D> {}

impl<D> Handle<D> {
    pub(crate) fn new(cell: CellId) -> Self {
        Handle {
            cell,
            dimension: PhantomData,
        }
    }

    /// The cell.
    pub fn id(self) -> CellId {
        self.cell
    }
}

/// A formula with its dimension in the type.
#[derive(Clone)]
pub struct Expr<D> {
    formula: Formula,
    operands: Vec<CellId>,
    dimension: PhantomData<fn() -> D>,
}

/// What can stand in a formula: handles, formulas, numbers.
pub trait Term {
    /// Its dimension.
    type Dimension;
    /// The formula it is.
    fn expr(self) -> Expr<Self::Dimension>;
}

impl<D> Term for Handle<D> {
    type Dimension = D;
    fn expr(self) -> Expr<D> {
        let mut formula = Formula::default();
        let operand = formula.add_operand(Facet::Value);
        formula.push(Op::Cell(operand));
        Expr {
            formula,
            operands: vec![self.cell],
            dimension: PhantomData,
        }
    }
}

impl<D> Term for Expr<D> {
    type Dimension = D;
    fn expr(self) -> Expr<D> {
        self
    }
}

impl Term for f64 {
    type Dimension = Number;
    fn expr(self) -> Expr<Number> {
        constant(self, Unit::ONE)
    }
}

/// The ratio of a circle's circumference to its diameter, in a formula.
#[derive(Clone, Copy, Debug)]
pub struct Pi;

/// The ratio of a circle's circumference to its diameter, in a formula.
pub const PI: Pi = Pi;

impl Term for Pi {
    type Dimension = Number;
    fn expr(self) -> Expr<Number> {
        let mut formula = Formula::default();
        formula.push(Op::Pi);
        Expr {
            formula,
            operands: Vec::new(),
            dimension: PhantomData,
        }
    }
}

/// A literal, sign and number apart, as the notation writes it.
fn constant<D>(value: f64, unit: Unit) -> Expr<D> {
    let mut formula = Formula::default();
    let number = formula.push(Op::Number {
        value: Exact(value.abs()),
        unit,
    });
    if value.is_sign_negative() {
        formula.push(Op::Unary(Unary::Negate, number));
    }
    Expr {
        formula,
        operands: Vec::new(),
        dimension: PhantomData,
    }
}

/// A literal of a dimension, such as `1 kg`.
///
/// # Errors
/// The unit does not parse, or has another dimension; the message says which.
pub fn literal<D: Dimensioned>(value: f64, unit: &str) -> Result<Expr<D>, LiteralError> {
    let unit = unit_of::<D>(unit)?;
    if value.is_finite() {
        Ok(constant(value, unit))
    } else {
        Err(LiteralError::NotFinite { value })
    }
}

/// A unit text that must have the dimension `D`.
pub(crate) fn unit_of<D: Dimensioned>(text: &str) -> Result<Unit, LiteralError> {
    let unit = Unit::parse(text)?;
    if unit.dimension() == D::DIMENSION {
        Ok(unit)
    } else {
        Err(LiteralError::Dimension {
            unit,
            wanted: D::DIMENSION,
        })
    }
}

/// Why a literal or a unit does not fit its type.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum LiteralError {
    /// The text is no unit.
    #[error(transparent)]
    Unit(#[from] crate::quantity::UnitError),
    /// The unit has another dimension than the type.
    #[error("{unit} does not measure {wanted}, which the type asks for")]
    Dimension {
        /// The unit.
        unit: Unit,
        /// The type's dimension.
        wanted: Dimension,
    },
    /// The number is infinite or not a number.
    #[error("a literal must be a finite number, not {value}")]
    NotFinite {
        /// The number.
        value: f64,
    },
}

impl<D> Expr<D> {
    pub(crate) fn into_parts(self) -> (Formula, Vec<CellId>) {
        (self.formula, self.operands)
    }

    /// Appends another formula; gives the index of its result.
    fn absorb<E>(&mut self, other: Expr<E>) -> At {
        let map: Vec<u32> = other
            .operands
            .iter()
            .map(|cell| match self.operands.iter().position(|o| o == cell) {
                Some(at) => at as u32,
                None => {
                    self.operands.push(*cell);
                    self.formula.add_operand(Facet::Value)
                }
            })
            .collect();
        self.formula.append(&other.formula, &map)
    }

    fn binary<E, R>(self, binary: Binary, other: Expr<E>) -> Expr<R> {
        let mut expr = self;
        let a = expr.formula.root();
        let b = expr.absorb(other);
        expr.formula.push(Op::Binary(binary, a, b));
        expr.retyped()
    }

    fn unary<R>(mut self, unary: Unary) -> Expr<R> {
        let a = self.formula.root();
        self.formula.push(Op::Unary(unary, a));
        self.retyped()
    }

    fn many<E>(mut self, many: Many, other: Expr<E>) -> Expr<D> {
        let a = self.formula.root();
        let b = self.absorb(other);
        self.formula.push_many(many, &[a, b]);
        self
    }

    fn retyped<R>(self) -> Expr<R> {
        Expr {
            formula: self.formula,
            operands: self.operands,
            dimension: PhantomData,
        }
    }
}

/// Functions on anything that can stand in a formula.
pub trait TermExt: Term + Sized {
    /// The `N`-th power, `N` a whole number of the `typenum` crate.
    fn powi<N: Integer>(self) -> Expr<<Self::Dimension as Raised<N>>::Output>
    where
        Self::Dimension: Raised<N>,
    {
        self.expr().binary(Binary::Power, f64::from(N::I32).expr())
    }

    /// The absolute value.
    fn abs(self) -> Expr<Self::Dimension> {
        self.expr().unary(Unary::Abs)
    }

    /// The lesser of two.
    fn min<B: Term>(self, other: B) -> Expr<Self::Dimension>
    where
        Self::Dimension: SameDimension<B::Dimension>,
    {
        self.expr().many(Many::Min, other.expr())
    }

    /// The greater of two.
    fn max<B: Term>(self, other: B) -> Expr<Self::Dimension>
    where
        Self::Dimension: SameDimension<B::Dimension>,
    {
        self.expr().many(Many::Max, other.expr())
    }

    /// The first, or the second where the first is missing.
    fn or_else<B: Term>(self, other: B) -> Expr<Self::Dimension>
    where
        Self::Dimension: SameDimension<B::Dimension>,
    {
        let mut expr = self.expr();
        let a = expr.formula.root();
        let b = expr.absorb(other.expr());
        expr.formula.push(Op::Else(a, b));
        expr
    }
}
impl<T: Term> TermExt for T {}

/// Functions of bare numbers.
pub trait NumberExt: Term + Sized {
    /// Natural exponential.
    fn exp(self) -> Expr<Number>
    where
        Self::Dimension: BareNumber,
    {
        self.expr().unary(Unary::Exp)
    }

    /// Natural logarithm.
    fn ln(self) -> Expr<Number>
    where
        Self::Dimension: BareNumber,
    {
        self.expr().unary(Unary::Ln)
    }

    /// Any real power.
    fn powf(self, exponent: f64) -> Expr<Number>
    where
        Self::Dimension: BareNumber,
    {
        self.expr().binary(Binary::Power, exponent.expr())
    }
}
impl<T: Term> NumberExt for T {}

/// Operators between two kinds of terms.
macro_rules! operators {
    ($([$($generic:ident),*] $left:ty, $right:ty;)*) => {$(
        impl<$($generic,)*> Add<$right> for $left
        where
            <$left as Term>::Dimension: SameDimension<<$right as Term>::Dimension>,
        {
            type Output = Expr<<$left as Term>::Dimension>;
            fn add(self, other: $right) -> Self::Output {
                self.expr().binary(Binary::Add, other.expr())
            }
        }
        impl<$($generic,)*> Sub<$right> for $left
        where
            <$left as Term>::Dimension: SameDimension<<$right as Term>::Dimension>,
        {
            type Output = Expr<<$left as Term>::Dimension>;
            fn sub(self, other: $right) -> Self::Output {
                self.expr().binary(Binary::Subtract, other.expr())
            }
        }
        impl<$($generic,)*> Mul<$right> for $left
        where
            <$left as Term>::Dimension: Times<<$right as Term>::Dimension>,
        {
            type Output = Expr<<<$left as Term>::Dimension as Times<<$right as Term>::Dimension>>::Output>;
            fn mul(self, other: $right) -> Self::Output {
                self.expr().binary(Binary::Multiply, other.expr())
            }
        }
        impl<$($generic,)*> Div<$right> for $left
        where
            <$left as Term>::Dimension: Per<<$right as Term>::Dimension>,
        {
            type Output = Expr<<<$left as Term>::Dimension as Per<<$right as Term>::Dimension>>::Output>;
            fn div(self, other: $right) -> Self::Output {
                self.expr().binary(Binary::Divide, other.expr())
            }
        }
    )*};
}

operators! {
    [D, E] Handle<D>, Handle<E>;
    [D, E] Handle<D>, Expr<E>;
    [D, E] Expr<D>, Handle<E>;
    [D, E] Expr<D>, Expr<E>;
    [D] Handle<D>, f64;
    [D] f64, Handle<D>;
    [D] Expr<D>, f64;
    [D] f64, Expr<D>;
    [D] Pi, Handle<D>;
    [D] Pi, Expr<D>;
    [D] Handle<D>, Pi;
    [D] Expr<D>, Pi;
    [] Pi, f64;
    [] f64, Pi;
}

impl<D> Neg for Handle<D> {
    type Output = Expr<D>;
    fn neg(self) -> Expr<D> {
        self.expr().unary(Unary::Negate)
    }
}

impl<D> Neg for Expr<D> {
    type Output = Expr<D>;
    fn neg(self) -> Expr<D> {
        self.unary(Unary::Negate)
    }
}
