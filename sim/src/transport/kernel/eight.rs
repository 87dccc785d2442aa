//! Eight numbers of single precision at a time, as wide as the processor has them.
//!
//! In: planes of eight boxes, corners of eight triangles. Out: which are entered, which may be met. Products and sums
//! are fused where the processor can, so levels may disagree about what is missed by no more than rounding. They
//! let through more than is met, never less, and what is met is decided by the same bits at every level
//! ([`super::triangle`]): answers are the same (`tests::levels`).

use crate::lanes::{Four, Level};
use wide::{f32x8, f64x4};

/// A question to a kernel that goes through boxes eight at a time.
pub(super) trait Query {
    /// What comes of it.
    type Answer;
    /// Answers it. To be inlined always, with all that it calls on every box: what is not inlined has no wide instructions.
    fn ask<E: Eight>(&mut self) -> Self::Answer;
}

/// Eight numbers.
pub(super) trait Eight: Copy {
    /// Four of double precision, for making a ray ready.
    type Four: Four;
    /// The same number eight times.
    fn splat(value: f32) -> Self;
    /// From memory.
    fn load(values: &f32x8) -> Self;
    /// Product and another number, rounded once or twice.
    fn times_plus(self, factor: Self, other: Self) -> Self;
    /// Product less another number, rounded once or twice.
    fn times_less(self, factor: Self, other: Self) -> Self;
    /// Product.
    fn times(self, other: Self) -> Self;
    /// Quotient.
    fn over(self, other: Self) -> Self;
    /// Difference.
    fn minus(self, other: Self) -> Self;
    /// Without signs.
    fn abs(self) -> Self;
    /// The greater of two.
    fn max(self, other: Self) -> Self;
    /// The lesser of two.
    fn min(self, other: Self) -> Self;
    /// A bit where the first is at most the second.
    fn not_above(self, other: Self) -> u32;
    /// A bit where the first is less than the second.
    fn below(self, other: Self) -> u32;
    /// Asks for memory that will be read soon, so many lines of 64 bytes from there on.
    #[inline(always)]
    fn fetch<const LINES: usize>(_from: *const u8) {}
    /// Short keys of numbers from 0 up.
    type Keys: Keys;
    /// Keys of the numbers that are at most others; a key's order is that of its number, as far as it goes.
    fn keys(self, most: Self) -> Self::Keys;
}

/// Short keys of eight numbers; those that count no more are [`SPENT`].
pub(super) trait Keys: Copy {
    /// The least key and where it is.
    fn least(self) -> (u32, usize);
    /// The same without one of them.
    fn without(self, lane: usize) -> Self;
}

/// A key that counts no more.
pub(super) const SPENT: u32 = 0xFFFF;

/// The key of a number from 0 up: its upper half.
#[inline(always)]
pub(super) fn key(number: f32) -> u32 {
    number.to_bits() >> 16
}

/// Keys on every processor.
#[derive(Clone, Copy)]
pub(super) struct Plain([u32; 8]);

impl Keys for Plain {
    #[inline(always)]
    fn least(self) -> (u32, usize) {
        let (mut least, mut at) = (self.0[0], 0);
        for (lane, key) in self.0.into_iter().enumerate().skip(1) {
            if key < least {
                (least, at) = (key, lane);
            }
        }
        (least, at)
    }

    #[inline(always)]
    fn without(mut self, lane: usize) -> Self {
        self.0[lane % 8] = SPENT;
        self
    }
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
    fn times_plus(self, factor: Self, other: Self) -> Self {
        self * factor + other
    }

    #[inline(always)]
    fn times_less(self, factor: Self, other: Self) -> Self {
        self * factor - other
    }

    #[inline(always)]
    fn times(self, other: Self) -> Self {
        self * other
    }

    #[inline(always)]
    fn over(self, other: Self) -> Self {
        self / other
    }

    #[inline(always)]
    fn minus(self, other: Self) -> Self {
        self - other
    }

    #[inline(always)]
    fn abs(self) -> Self {
        self.abs()
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
    fn below(self, other: Self) -> u32 {
        self.simd_lt(other).to_bitmask()
    }

    type Keys = Plain;

    #[inline(always)]
    fn keys(self, most: Self) -> Plain {
        let (mine, counts) = (self.to_array(), self.simd_le(most).to_bitmask());
        let key = |lane: usize| match counts >> lane & 1 {
            1 => key(mine[lane].abs()),
            _ => SPENT,
        };
        Plain([0, 1, 2, 3, 4, 5, 6, 7].map(key))
    }
}

impl Level {
    /// Answers a query.
    #[inline]
    pub(super) fn ask<Q: Query>(self, mut query: Q) -> Q::Answer {
        let query = &mut query;
        match self {
            Self::Base => base(query),
            #[cfg(target_arch = "x86_64")]
            Self::Avx2(seen) => avx2::ask(seen, query),
            #[cfg(target_arch = "x86_64")]
            Self::Avx512(seen) => avx2::ask_more(seen, query),
        }
    }
}

#[inline(never)]
fn base<Q: Query>(query: &mut Q) -> Q::Answer {
    query.ask::<f32x8>()
}

#[cfg(target_arch = "x86_64")]
mod avx2 {
    #![expect(
        unsafe_code,
        reason = "vector instructions; each is reached only through `ask`, with proof that the processor has them"
    )]

    use super::{Eight, Keys, Query};
    use crate::lanes::avx2::{Seen, SeenMore};
    use std::arch::x86_64::{
        __m128i, __m256, _CMP_LE_OQ, _CMP_LT_OQ, _MM_HINT_T0, _mm_cvtsi128_si32, _mm_loadu_si128,
        _mm_minpos_epu16, _mm_or_si128, _mm_packus_epi32, _mm_prefetch, _mm256_and_si256,
        _mm256_andnot_ps, _mm256_andnot_si256, _mm256_castps_si256, _mm256_castsi256_si128,
        _mm256_cmp_ps, _mm256_div_ps, _mm256_extracti128_si256, _mm256_fmadd_ps, _mm256_fmsub_ps,
        _mm256_loadu_ps, _mm256_max_ps, _mm256_min_ps, _mm256_movemask_ps, _mm256_mul_ps,
        _mm256_or_si256, _mm256_set1_epi32, _mm256_set1_ps, _mm256_srli_epi32, _mm256_sub_ps,
    };
    use wide::f32x8;

    /// Private to this module: made only below [`ask`] and [`ask_more`].
    #[derive(Clone, Copy)]
    struct Avx(__m256);

    // SAFETY of all: AVX is there, or nobody would have come through these; the load reads the 32 bytes of an
    // f32x8 behind a reference.
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
        fn times_plus(self, factor: Self, other: Self) -> Self {
            Self(unsafe { _mm256_fmadd_ps(self.0, factor.0, other.0) })
        }

        #[inline(always)]
        fn times_less(self, factor: Self, other: Self) -> Self {
            Self(unsafe { _mm256_fmsub_ps(self.0, factor.0, other.0) })
        }

        #[inline(always)]
        fn times(self, other: Self) -> Self {
            Self(unsafe { _mm256_mul_ps(self.0, other.0) })
        }

        #[inline(always)]
        fn over(self, other: Self) -> Self {
            Self(unsafe { _mm256_div_ps(self.0, other.0) })
        }

        #[inline(always)]
        fn minus(self, other: Self) -> Self {
            Self(unsafe { _mm256_sub_ps(self.0, other.0) })
        }

        #[inline(always)]
        fn abs(self) -> Self {
            Self(unsafe { _mm256_andnot_ps(_mm256_set1_ps(-0.0), self.0) })
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
        fn below(self, other: Self) -> u32 {
            let bits = unsafe { _mm256_movemask_ps(_mm256_cmp_ps::<_CMP_LT_OQ>(self.0, other.0)) };
            bits.cast_unsigned()
        }

        #[inline(always)]
        fn fetch<const LINES: usize>(from: *const u8) {
            for line in 0..LINES {
                // SAFETY: asking for memory reads none and cannot fail, wherever it is.
                unsafe { _mm_prefetch::<_MM_HINT_T0>(from.wrapping_add(64 * line).cast()) };
            }
        }

        type Keys = Short;

        #[inline(always)]
        fn keys(self, most: Self) -> Short {
            unsafe {
                let counts = _mm256_castps_si256(_mm256_cmp_ps::<_CMP_LE_OQ>(self.0, most.0));
                let upper = _mm256_srli_epi32::<16>(_mm256_castps_si256(self.0));
                let upper = _mm256_and_si256(upper, _mm256_set1_epi32(0x7FFF));
                let spent = _mm256_andnot_si256(counts, _mm256_set1_epi32(0xFFFF));
                let keys = _mm256_or_si256(upper, spent);
                let (low, high) = (
                    _mm256_castsi256_si128(keys),
                    _mm256_extracti128_si256::<1>(keys),
                );
                Short(_mm_packus_epi32(low, high))
            }
        }
    }

    /// Keys in sixteen bits each.
    #[derive(Clone, Copy)]
    struct Short(__m128i);

    /// All bits in one of eight lanes.
    const ONLY: [[u16; 8]; 8] = {
        let mut only = [[0; 8]; 8];
        let mut lane = 0;
        while lane < 8 {
            only[lane][lane] = 0xFFFF;
            lane += 1;
        }
        only
    };

    impl Keys for Short {
        #[inline(always)]
        fn least(self) -> (u32, usize) {
            let found = unsafe { _mm_cvtsi128_si32(_mm_minpos_epu16(self.0)) }.cast_unsigned();
            (found & 0xFFFF, (found >> 16) as usize)
        }

        #[inline(always)]
        fn without(self, lane: usize) -> Self {
            let only = &ONLY[lane % 8];
            Self(unsafe { _mm_or_si128(self.0, _mm_loadu_si128(only.as_ptr().cast())) })
        }
    }

    /// Answers a query.
    #[inline]
    pub fn ask<Q: Query>(_seen: Seen, query: &mut Q) -> Q::Answer {
        // SAFETY: whoever has a `Seen` has asked the processor.
        unsafe { inner(query) }
    }

    #[target_feature(enable = "avx2,bmi1,fma")]
    fn inner<Q: Query>(query: &mut Q) -> Q::Answer {
        query.ask::<Avx>()
    }

    /// Answers a query with twice the registers.
    #[inline]
    pub fn ask_more<Q: Query>(_seen: SeenMore, query: &mut Q) -> Q::Answer {
        // SAFETY: whoever has a `SeenMore` has asked the processor.
        unsafe { inner_more(query) }
    }

    #[target_feature(enable = "avx2,bmi1,fma,avx512f,avx512vl,avx512dq,avx512bw")]
    fn inner_more<Q: Query>(query: &mut Q) -> Q::Answer {
        query.ask::<Avx>()
    }
}
