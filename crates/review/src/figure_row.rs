//! A group of notes as a row of the report.

use crate::basis::Basis;
use crate::figures::Figures;
use crate::groups::Group;
use crate::members::Members;
use crate::score::GroupRow;
use takegauge_stats::Estimate;

/// A group's row; `bias` where it was found, see [`Members::new`].
pub(crate) fn row(basis: &Basis, group: &Group, bias: Option<Estimate>) -> GroupRow {
    let members = Members::new(basis, group, bias);
    GroupRow {
        group: group.key,
        label: group.label.clone(),
        figures: Figures::each(|figure| (figure.of)(&members)),
        outside_text: members.margin.as_ref().map(|m| m.text.clone()),
        withheld: members.withheld(),
    }
}
