pub mod phonics;
