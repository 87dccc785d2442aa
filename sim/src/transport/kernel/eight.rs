//! Eight numbers of single precision at a time, as wide as the processor has them.
//!
//! In: planes of eight boxes. Out: which are entered. The same operations in the same order at every level,
//! none of them fused, so the bits are the same too.

use crate::lanes::{Four, Level};
use wide::{f32x8, f64x4};

/// A question to a kernel that goes through boxes eight at a time.
pub(super) trait Query {
    /// What comes of it.
    type Answer;
    /// Answers it. To be inlined always, with all that it calls on every box: what is not inlined has no wide instructions.
    fn ask<E: Eight>(self) -> Self::Answer;
}

/// Eight numbers.
pub(super) trait Eight: Copy {
    /// Four of double precision, for making a ray ready.
    type Four: Four;
    /// The same number eight times.
    fn splat(value: f32) -> Self;
    /// From memory.
    fn load(values: &f32x8) -> Self;
    /// Difference.
    fn minus(self, other: Self) -> Self;
    /// Product.
    fn times(self, other: Self) -> Self;
    /// The greater of two.
    fn max(self, other: Self) -> Self;
    /// The lesser of two.
    fn min(self, other: Self) -> Self;
    /// A bit where the first is at most the second.
    fn not_above(self, other: Self) -> u32;
    /// Into memory.
    fn store(self) -> [f32; 8];
}

impl Eight for f32x8 {
    type Four = f64x4;

    #[inline(always)]
    fn splat(value: f32) -> Self {
        Self::splat(value)
    }

    #[inline(always)]
    fn load(values: &f32x8) -> Self {
        *values
    }

    #[inline(always)]
    fn minus(self, other: Self) -> Self {
        self - other
    }

    #[inline(always)]
    fn times(self, other: Self) -> Self {
        self * other
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
    fn not_above(self, other: Self) -> u32 {
        self.simd_le(other).to_bitmask()
    }

    #[inline(always)]
    fn store(self) -> [f32; 8] {
        self.to_array()
    }
}

impl Level {
    /// Answers a query. Must not be asked of a level that the processor lacks.
    #[inline]
    pub(super) fn ask<Q: Query>(self, query: Q) -> Q::Answer {
        match self {
            Self::Base => query.ask::<f32x8>(),
            #[cfg(target_arch = "x86_64")]
            Self::Avx2 => avx2::ask(query),
        }
    }
}

#[cfg(target_arch = "x86_64")]
mod avx2 {
    #![expect(
        unsafe_code,
        reason = "vector instructions; each is reached only through `ask`, which asks the processor first"
    )]

    use super::{Eight, Query};
    use std::arch::x86_64::{
        __m256, _CMP_LE_OQ, _mm256_cmp_ps, _mm256_loadu_ps, _mm256_max_ps, _mm256_min_ps,
        _mm256_movemask_ps, _mm256_mul_ps, _mm256_set1_ps, _mm256_storeu_ps, _mm256_sub_ps,
    };
    use wide::f32x8;

    /// Private to this module: made only below [`walk`].
    #[derive(Clone, Copy)]
    struct Avx(__m256);

    // SAFETY of all: AVX is there, or `walk` would not have let anybody in; the load reads the 32 bytes of
    // an f32x8 behind a reference.
    impl Eight for Avx {
        type Four = crate::lanes::avx2::Avx;

        #[inline(always)]
        fn splat(value: f32) -> Self {
            Self(unsafe { _mm256_set1_ps(value) })
        }

        #[inline(always)]
        fn load(values: &f32x8) -> Self {
            Self(unsafe { _mm256_loadu_ps(values.as_array().as_ptr()) })
        }

        #[inline(always)]
        fn minus(self, other: Self) -> Self {
            Self(unsafe { _mm256_sub_ps(self.0, other.0) })
        }

        #[inline(always)]
        fn times(self, other: Self) -> Self {
            Self(unsafe { _mm256_mul_ps(self.0, other.0) })
        }

        #[inline(always)]
        fn max(self, other: Self) -> Self {
            Self(unsafe { _mm256_max_ps(self.0, other.0) })
        }

        #[inline(always)]
        fn min(self, other: Self) -> Self {
            Self(unsafe { _mm256_min_ps(self.0, other.0) })
        }

        #[inline(always)]
        fn not_above(self, other: Self) -> u32 {
            let bits = unsafe { _mm256_movemask_ps(_mm256_cmp_ps::<_CMP_LE_OQ>(self.0, other.0)) };
            bits.cast_unsigned()
        }

        #[inline(always)]
        fn store(self) -> [f32; 8] {
            let mut values = [0.0; 8];
            unsafe { _mm256_storeu_ps(values.as_mut_ptr(), self.0) };
            values
        }
    }

    /// Answers a query.
    pub fn ask<Q: Query>(query: Q) -> Q::Answer {
        assert!(
            std::arch::is_x86_feature_detected!("avx2")
                && std::arch::is_x86_feature_detected!("bmi1"),
            "the processor has AVX2"
        );
        // SAFETY: just asked.
        unsafe { inner(query) }
    }

    #[target_feature(enable = "avx2,bmi1")]
    fn inner<Q: Query>(query: Q) -> Q::Answer {
        query.ask::<Avx>()
    }
}
