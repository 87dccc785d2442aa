//! Stencils in gas: haze creeps under a lifted edge, by the default method as by firing.

use evenfall_sim::transport::Method;
use evenfall_tests::bench::Asked;
use evenfall_tests::lifted::{GAS, ZONES, asked, lifted, mean_m, runs, zone_m};

#[test]
fn haze_under_a_lifted_edge_is_the_same_by_auto_as_by_firing_and_there_is_none_without_gas() {
    let auto = runs(GAS, asked(Method::Auto, 200_000), 4);
    let fire = runs(GAS, asked(Method::Fire, 400_000), 4);
    let bare = lifted("").coat(&Asked::gather(0.05));
    let open = zone_m(&bare.scene, &bare.tally, &(-4e-3..-1e-3));
    for range in &ZONES {
        let ((by_auto, auto_error), (by_fire, fire_error)) =
            (mean_m(&auto, range), mean_m(&fire, range));
        let error = auto_error.hypot(fire_error);
        // four runs each: a spread of six degrees of freedom, z = 6 once in a thousand
        assert!(
            (by_auto - by_fire).abs() < 6.0 * error,
            "{range:?}: {by_auto:e} ± {auto_error:e} by auto, {by_fire:e} ± {fire_error:e} by firing"
        );
        assert!(error < 0.1 * by_fire, "{range:?}: {error:e} of {by_fire:e}");
        let straight = zone_m(&bare.scene, &bare.tally, range);
        println!(
            "{range:?}: auto {by_auto:e} ± {auto_error:e}, fire {by_fire:e} ± {fire_error:e}, bare {straight:e}, open {open:e}"
        );
        // straight lines reach 1 mm · (15 + 4)/39 = 0.5 mm under the sheet at most
        if range.start > 0.5e-3 {
            assert_eq!(straight, 0.0);
            assert!(
                by_auto.min(by_fire) > 6.0 * error,
                "{range:?}: {by_auto:e} ± {error:e}"
            );
        }
    }
}
