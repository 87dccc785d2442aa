//! What the processor can do, and four numbers of double precision at a time.
//!
//! In: a task of sums, products and roots. Out: the same bits at every level and for each number alone: nothing
//! is fused, nothing is approximated.

use std::ops::{Add, Div, Mul, Sub};
use wide::f64x4;

/// What the processor can do.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(crate) enum Level {
    /// What every processor of the target can.
    #[default]
    Base,
    /// AVX2 and FMA.
    #[cfg(target_arch = "x86_64")]
    Avx2(avx2::Seen),
    /// AVX-512 too, of which the ray kernel uses the many registers and the operands that are spread from memory, not
    /// the width.
    #[cfg(target_arch = "x86_64")]
    Avx512(avx2::SeenMore),
}

impl Level {
    /// The best that this processor can.
    #[inline]
    pub fn best() -> Self {
        #[cfg(target_arch = "x86_64")]
        if let Some(seen) = avx2::SeenMore::new() {
            return Self::Avx512(seen);
        } else if let Some(seen) = avx2::Seen::new() {
            return Self::Avx2(seen);
        }
        Self::Base
    }

    /// All that this processor can, the least first.
    #[cfg(test)]
    pub fn all() -> Vec<Self> {
        let mut all = vec![Self::Base];
        #[cfg(target_arch = "x86_64")]
        {
            all.extend(avx2::Seen::new().map(Self::Avx2));
            all.extend(avx2::SeenMore::new().map(Self::Avx512));
        }
        all
    }

    /// Runs a task, four numbers at a time.
    #[inline]
    pub fn run<T: Task>(self, task: T) -> T::Output {
        match self {
            Self::Base => task.run::<f64x4>(),
            #[cfg(target_arch = "x86_64")]
            Self::Avx2(seen) => seen.run(task),
            #[cfg(target_arch = "x86_64")]
            Self::Avx512(seen) => seen.less().run(task),
        }
    }
}

/// Something to be done with four numbers at a time.
pub(crate) trait Task {
    /// What comes of it.
    type Output;
    /// Does it. To be inlined always, and free of closures over `F`: what is not inlined has no wide instructions.
    fn run<F: Four>(self) -> Self::Output;
}

/// Numbers in one go.
pub(crate) const LANES: usize = 4;

/// Four numbers.
pub(crate) trait Four:
    Copy + Add<Output = Self> + Sub<Output = Self> + Mul<Output = Self> + Div<Output = Self>
{
    /// The same number four times.
    fn splat(value: f64) -> Self;
    /// From memory.
    fn load(values: &[f64; LANES]) -> Self;
    /// Into memory.
    fn store(self) -> [f64; LANES];
    /// Square root.
    fn sqrt(self) -> Self;
    /// The greater of two.
    fn max(self, other: Self) -> Self;
    /// The lesser of two.
    fn min(self, other: Self) -> Self;
    /// 1 where the first is at most the second, 0 elsewhere.
    fn is_at_most(self, other: Self) -> Self;
    /// Rounded to single precision.
    fn narrow(self) -> [f32; LANES];
}

impl Four for f64x4 {
    #[inline(always)]
    fn splat(value: f64) -> Self {
        Self::splat(value)
    }

    #[inline(always)]
    fn load(values: &[f64; LANES]) -> Self {
        Self::new(*values)
    }

    #[inline(always)]
    fn store(self) -> [f64; LANES] {
        self.to_array()
    }

    #[inline(always)]
    fn sqrt(self) -> Self {
        self.sqrt()
    }

    #[inline(always)]
    fn max(self, other: Self) -> Self {
        self.fast_max(other)
    }

    #[inline(always)]
    fn min(self, other: Self) -> Self {
        self.fast_min(other)
    }

    #[inline(always)]
    fn is_at_most(self, other: Self) -> Self {
        self.simd_le(other) & Self::splat(1.0)
    }

    #[inline(always)]
    #[expect(clippy::cast_possible_truncation, reason = "rounding is asked for")]
    fn narrow(self) -> [f32; LANES] {
        let [a, b, c, d] = self.to_array();
        [a as f32, b as f32, c as f32, d as f32]
    }
}

#[cfg(target_arch = "x86_64")]
pub(crate) mod avx2 {
    #![expect(
        unsafe_code,
        reason = "vector instructions; each is reached only with a `Seen`, which is made by asking the processor"
    )]

    use super::{Add, Div, Four, LANES, Mul, Sub, Task};
    use std::arch::x86_64::{
        __m256d, _CMP_LE_OQ, _mm_storeu_ps, _mm256_add_pd, _mm256_and_pd, _mm256_cmp_pd,
        _mm256_cvtpd_ps, _mm256_div_pd, _mm256_loadu_pd, _mm256_max_pd, _mm256_min_pd,
        _mm256_mul_pd, _mm256_set1_pd, _mm256_sqrt_pd, _mm256_storeu_pd, _mm256_sub_pd,
    };

    /// Made only below what has a [`Seen`]: tasks, and queries of the ray kernel.
    #[derive(Clone, Copy)]
    pub(crate) struct Avx(__m256d);

    // SAFETY of all: AVX is there, or nobody would have a `Seen`; load and store touch the 32 bytes
    // of an array of four numbers.
    macro_rules! operator {
        ($operator:ident, $method:ident, $instruction:ident) => {
            impl $operator for Avx {
                type Output = Self;
                #[inline(always)]
                fn $method(self, other: Self) -> Self {
                    Self(unsafe { $instruction(self.0, other.0) })
                }
            }
        };
    }
    operator!(Add, add, _mm256_add_pd);
    operator!(Sub, sub, _mm256_sub_pd);
    operator!(Mul, mul, _mm256_mul_pd);
    operator!(Div, div, _mm256_div_pd);

    impl Four for Avx {
        #[inline(always)]
        fn splat(value: f64) -> Self {
            Self(unsafe { _mm256_set1_pd(value) })
        }

        #[inline(always)]
        fn load(values: &[f64; LANES]) -> Self {
            Self(unsafe { _mm256_loadu_pd(values.as_ptr()) })
        }

        #[inline(always)]
        fn store(self) -> [f64; LANES] {
            let mut values = [0.0; LANES];
            unsafe { _mm256_storeu_pd(values.as_mut_ptr(), self.0) };
            values
        }

        #[inline(always)]
        fn sqrt(self) -> Self {
            Self(unsafe { _mm256_sqrt_pd(self.0) })
        }

        #[inline(always)]
        fn max(self, other: Self) -> Self {
            Self(unsafe { _mm256_max_pd(self.0, other.0) })
        }

        #[inline(always)]
        fn min(self, other: Self) -> Self {
            Self(unsafe { _mm256_min_pd(self.0, other.0) })
        }

        #[inline(always)]
        fn is_at_most(self, other: Self) -> Self {
            let one = Self::splat(1.0);
            Self(unsafe { _mm256_and_pd(_mm256_cmp_pd::<_CMP_LE_OQ>(self.0, other.0), one.0) })
        }

        #[inline(always)]
        fn narrow(self) -> [f32; LANES] {
            let mut values = [0.0; LANES];
            unsafe { _mm_storeu_ps(values.as_mut_ptr(), _mm256_cvtpd_ps(self.0)) };
            values
        }
    }

    /// Proof that the processor was asked, and has the AVX-512 of the ray kernel beside what [`Seen`] proves.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    pub(crate) struct SeenMore(Seen);

    impl SeenMore {
        /// Asks the processor.
        #[inline]
        pub fn new() -> Option<Self> {
            let there = std::arch::is_x86_feature_detected!("avx512f")
                && std::arch::is_x86_feature_detected!("avx512vl")
                && std::arch::is_x86_feature_detected!("avx512dq")
                && std::arch::is_x86_feature_detected!("avx512bw");
            Seen::new().filter(|_| there).map(Self)
        }

        /// That it has what is less.
        #[inline]
        pub fn less(self) -> Seen {
            self.0
        }
    }

    /// Proof that the processor was asked, and has AVX2, FMA and BMI1.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    pub(crate) struct Seen(());

    impl Seen {
        /// Asks the processor.
        #[inline]
        pub fn new() -> Option<Self> {
            let there = std::arch::is_x86_feature_detected!("avx2")
                && std::arch::is_x86_feature_detected!("fma")
                && std::arch::is_x86_feature_detected!("bmi1");
            there.then_some(Self(()))
        }

        /// Runs a task.
        #[inline]
        pub fn run<T: Task>(self, task: T) -> T::Output {
            // SAFETY: `self` proves that the processor can.
            unsafe { inner(task) }
        }
    }

    #[target_feature(enable = "avx2,bmi1")]
    fn inner<T: Task>(task: T) -> T::Output {
        task.run::<Avx>()
    }
}
