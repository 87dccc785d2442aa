//! The keys at the top of a plan.

use super::{Key, Kind, bodies, optional, receivers, required, schedule, sources};

/// The keys at the top of a plan.
pub(in crate::plan) static ROOT: &[Key] = &[
    optional(
        "include",
        Kind::List(&Kind::Path, 0),
        "plan files read before this one; what stands here wins",
    ),
    optional(
        "title",
        Kind::Text,
        "headline of the report; the file's name when left out",
    ),
    optional(
        "chamber",
        Kind::Tagged(&bodies::CHAMBER),
        "the vacuum chamber; without it nothing has walls",
    ),
    optional(
        "gas",
        Kind::Table(sources::GAS),
        "the working gas; without it atoms fly straight",
    ),
    optional(
        "metal",
        Kind::Entries(&sources::METAL),
        "a metal of your own",
    ),
    required(
        "source",
        Kind::Entries(&sources::SOURCE),
        "what emits metal",
    ),
    optional(
        "fixture",
        Kind::Entries(&bodies::FIXTURE),
        "anything else in the way",
    ),
    optional(
        "shutter",
        Kind::Entries(&bodies::SHUTTER),
        "a shutter, absent when open",
    ),
    required("part", Kind::Entries(&receivers::PART), "what is coated"),
    optional(
        "region",
        Kind::Entries(&receivers::REGION),
        "a named place on a part",
    ),
    optional(
        "coupon",
        Kind::Entries(&receivers::COUPON),
        "a flat, square, one-sided witness slide",
    ),
    optional(
        "rotation",
        Kind::Entries(&schedule::ROTATION),
        "a rotation of the parts; the first acts first",
    ),
    required(
        "step",
        Kind::Entries(&schedule::STEP),
        "a step of the schedule",
    ),
    optional(
        "film",
        Kind::Table(schedule::FILM),
        "the film that is wanted; without it there is no verdict",
    ),
    optional(
        "mask",
        Kind::Entries(&receivers::MASK),
        "a cut stencil on a part",
    ),
    optional(
        "probe",
        Kind::Entries(&receivers::PROBE),
        "a line along which thickness is evaluated",
    ),
    optional(
        "advise",
        Kind::Table(schedule::ADVISE),
        "what `evenfall advise` may vary",
    ),
];
