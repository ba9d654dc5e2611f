//! What leaves the program: walls, reports, sheets to rebuild by, moving pictures.

pub mod build_sheet;
pub mod hanging;
pub mod moving;
pub mod orders_wall;
pub mod page;
pub mod pieces_wall;
pub mod report;
pub mod sections;
pub mod wall;
